package mesh

import (
	"bytes"
	"context"
	"fmt"
	"regexp"
	"strings"
)

// unitWords are the spellings of a unit in a file's comments.
var unitWords = map[string]Unit{
	"mm": Millimetre, "millimetre": Millimetre, "millimeter": Millimetre,
	"cm": Centimetre, "centimetre": Centimetre, "centimeter": Centimetre,
	"m": Metre, "metre": Metre, "meter": Metre,
	"in": Inch, "inch": Inch, "inche": Inch, `"`: Inch,
	"ft": Foot, "foot": Foot, "feet": Foot,
}

// otherUnits are units that a file may state but that are not read here.
var otherUnits = map[string]bool{
	"um": true, "µm": true, "μm": true, "micron": true, "micrometre": true, "micrometer": true,
	"mil": true, "thou": true, "dm": true, "decimetre": true, "decimeter": true,
	"yd": true, "yard": true, "km": true, "kilometre": true, "kilometer": true,
}

// unitSaid finds "unit: mm", "units = inches", "unit is m" and the like.
var unitSaid = regexp.MustCompile(`(?i)\bunits?(?:[ \t]+of[ \t]+length)?[ \t]*(?:[:=]|\bis\b|\bare\b|\bin\b|[ \t])[ \t]*(?:1[ \t]*)?["']?([a-zµμ]+|")`)

// unitBehind finds a unit behind a column's name: "x [mm]", "X(in)", "x_mm".
var unitBehind = regexp.MustCompile(`(?i)(?:^|[\s,;"/#])x\s*(?:[\[(]\s*([a-zµμ]+)\s*[\])]|_(mm|cm|m|in|ft)\b)`)

// statedUnit returns the unit that a text states, "" if none, and the words
// that state it. Words without a unit name one that is not read here.
func statedUnit(text []byte) (u Unit, words string) {
	for _, re := range []*regexp.Regexp{unitSaid, unitBehind} {
		for _, m := range re.FindAllSubmatch(text, 8) {
			name := strings.ToLower(string(bytes.Join(m[1:], nil)))
			said := strings.TrimLeft(string(bytes.TrimSpace(m[0])), " \t,;/#")
			for _, name := range []string{name, strings.TrimSuffix(name, "s")} {
				if u, ok := unitWords[name]; ok {
					return u, said
				}
				if otherUnits[name] {
					return "", said
				}
			}
		}
	}
	return "", ""
}

// unitText returns the parts of the file's start that may state a unit:
// comments, header row, solid name.
func (in *input) unitText() []byte {
	switch {
	case in.format == formatPLY:
		return []byte(strings.Join(in.ply.comments, "\n"))
	case in.format == formatSTL && !in.ascii:
		return bytes.Map(func(c rune) rune {
			if c < ' ' || c > '~' {
				return ' '
			}
			return c
		}, in.head[:min(80, len(in.head))])
	}
	var text []byte
	for line := range in.headLines() {
		t := bytes.TrimSpace(line)
		if len(t) == 0 {
			continue
		}
		if len(text)+len(t) > headSize {
			break
		}
		word, _ := cutWord(t)
		switch {
		case isComment(t), in.format == formatSTL && hasFold(t, "solid"),
			in.format == formatXYZ && !startsNumber(word):
			text = append(append(text, t...), '\n')
		case in.format == formatOBJ && objWords[string(word)] && word[0] != 'v':
		default:
			return text // data
		}
	}
	return text
}

// settleUnit decides the unit of the file's numbers, and the origin.
func (in *input) settleUnit(ctx context.Context, given Unit) error {
	stated, words := statedUnit(in.unitText())
	if stated == "" && in.xyz != nil && in.xyz.unit != "" {
		stated, words = in.xyz.unit, string(in.xyz.unit)
	}
	switch {
	case given != "":
		in.src.Unit, in.src.UnitSource = given, UnitGiven
		if stated != "" && stated != given {
			in.warn("The file says %q but the unit given is %s, which was used.", words, given)
		}
	case stated != "":
		in.src.Unit, in.src.UnitSource = stated, UnitFile
	default:
		in.src.Unit, in.src.UnitSource = Millimetre, UnitAssumed
		if words != "" {
			in.warn("The file says %q, a unit that is not read here, and millimetres are assumed: convert it, or give the unit.", words)
		}
	}
	scale, err := in.src.Unit.Millimetres()
	if err != nil {
		return err
	}
	in.scale = scale
	var s sample
	switch {
	case in.format == formatPLY:
		err = in.samplePLY(ctx, &s)
	case in.format == formatXYZ:
		err = in.sampleLines(in.xyz.body, in.size, func(line []byte) {
			var v [xyzRoles]float64
			if _, ok := in.xyz.parse(line, 0, &v); ok {
				s.add(v[0], v[1], v[2])
			}
		})
	case in.format == formatSTL && !in.ascii:
		err = in.sampleBinarySTL(&s)
	default:
		key := map[string]string{formatSTL: "vertex", formatOBJ: "v"}[in.format]
		err = in.sampleLines(in.body, in.size, func(line []byte) {
			line = bytes.TrimSpace(line)
			if word, _ := cutWord(line); len(word) == len(key) && hasFold(word, key) {
				if v, _, ok := threeNumbers(line, len(key)); ok {
					s.add(v[0], v[1], v[2])
				}
			}
		})
	}
	in.origin = s.origin(in.scale)
	return err
}

// threeNumbers reads three numbers set apart by white space at b[i:].
func threeNumbers(b []byte, i int) (v [3]float64, next int, ok bool) {
	for k := range v {
		i = skipSpace(b, i)
		if v[k], i, ok = parseNumber(b, i, '.'); !ok {
			return v, i, false
		}
	}
	return v, i, i == len(b) || isSpace(b[i]) || b[i] == '\n'
}

// hintUnit warns where an assumed unit makes a part of unlikely size. Parts
// that are scanned to be bolted to something measure from about 10 mm to a
// few metres (common practice, no source).
func (in *input) hintUnit(s *Scan) {
	if in.src.UnitSource != UnitAssumed {
		return
	}
	d := s.Diagonal()
	size := fmt.Sprintf("The file states no unit and millimetres are assumed, which makes the scan %.3g mm across", d)
	switch {
	case !(d > 0):
	case d < 2:
		in.warn("%s: if the numbers are metres it is %.3g mm, if inches %.3g mm; give the unit.", size, d*1000, d*25.4)
	case d < 20:
		in.warn("%s: if the numbers are inches it is %.3g mm, if centimetres %.3g mm; give the unit.", size, d*25.4, d*10)
	case d > 10000:
		in.warn("%s: numbers in micrometres would make it %.3g mm; check the unit.", size, d/1000)
	}
}
