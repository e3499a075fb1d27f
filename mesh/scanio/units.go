package scanio

import (
	"bytes"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// unitWords are the spellings of a unit in a file's comments; an empty unit is
// one that is not read here.
var unitWords = map[string]mesh.Unit{
	"mm": mesh.Millimetre, "millimetre": mesh.Millimetre, "millimeter": mesh.Millimetre,
	"cm": mesh.Centimetre, "centimetre": mesh.Centimetre, "centimeter": mesh.Centimetre,
	"m": mesh.Metre, "metre": mesh.Metre, "meter": mesh.Metre,
	"in": mesh.Inch, "inch": mesh.Inch, "inche": mesh.Inch, `"`: mesh.Inch,
	"ft": mesh.Foot, "foot": mesh.Foot, "feet": mesh.Foot,
	"um": "", "µm": "", "μm": "", "micron": "", "micrometre": "", "micrometer": "",
	"mil": "", "thou": "", "dm": "", "decimetre": "", "decimeter": "",
	"yd": "", "yard": "", "km": "", "kilometre": "", "kilometer": "",
}

// unitSaid finds "unit: mm", "units = inches", "unit is m" and the like.
var unitSaid = regexp.MustCompile(`(?i)\bunits?(?:[ \t]+of[ \t]+length)?[ \t]*` +
	`(?:[:=]|\bis\b|\bare\b|\bin\b|[ \t])[ \t]*(?:1[ \t]*)?["']?([a-zµμ]+|")`)

// unitBehind finds a unit behind a column's name: "x [mm]", "X(in)", "x_mm".
var unitBehind = regexp.MustCompile(`(?i)(?:^|[\s,;"/#])x\s*` +
	`(?:[\[(]\s*([a-zµμ]+)\s*[\])]|_(mm|cm|m|in|ft)\b)`)

// statedUnit returns the unit that a text states, "" if none, and the words
// that state it. Words without a unit name one that is not read here.
func statedUnit(text []byte) (u mesh.Unit, words string) {
	for _, re := range []*regexp.Regexp{unitSaid, unitBehind} {
		for _, m := range re.FindAllSubmatch(text, unitPlaces) {
			name := strings.ToLower(string(bytes.Join(m[1:], nil)))
			for _, name := range []string{name, strings.TrimSuffix(name, "s")} {
				if u, ok := unitWords[name]; ok {
					return u, strings.TrimLeft(string(bytes.TrimSpace(m[0])), " \t,;/#")
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
		return notPrinted.ReplaceAll(in.head[:min(80, len(in.head))], []byte{' '})
	}
	var text []byte
	for _, t := range in.headLines() {
		if !isComment(t) && dataLine.Match(t) || len(text)+len(t) > headSize {
			break
		}
		text = append(append(text, t...), '\n')
	}
	return text
}

var (
	notPrinted = regexp.MustCompile(`[^ -~]`)
	// dataLine is the first line of a text that holds numbers.
	dataLine = regexp.MustCompile(`^(?i:["+-]*(?:[.,]?[0-9]|nan|inf)|v[ntp]?\s|facet\s)`)
)

// settleUnit decides the unit of the file's numbers.
func (in *input) settleUnit() mesh.Source {
	src := mesh.Source{Format: in.format}
	if in.name != "" {
		src.File = filepath.Base(in.name)
	}
	stated, words := in.unit, in.said
	if words == "" {
		stated, words = statedUnit(in.unitText())
	}
	switch {
	case in.given != "":
		src.Unit, src.UnitSource = in.given, mesh.UnitGiven
		if stated != "" && stated != in.given {
			in.warn("The file says %q but the unit given is %s, which was used.", words, in.given)
		}
	case stated != "":
		src.Unit, src.UnitSource = stated, mesh.UnitFile
	default:
		src.Unit, src.UnitSource = mesh.Millimetre, mesh.UnitAssumed
		if words != "" {
			in.warn("The file says %q, a unit that is not read here, and millimetres are assumed: "+
				"convert it, or give the unit.", words)
		}
	}
	return src
}

// hintUnit warns where an assumed unit makes a part of unlikely size.
func (in *input) hintUnit(s *mesh.Scan) {
	if s.Source.UnitSource != mesh.UnitAssumed {
		return
	}
	d := s.Width()
	if !(d > 0) || d >= smallPart && d <= hugePart {
		return
	}
	hint := fmt.Sprintf("if the numbers are metres it is %.4g mm, "+
		"if inches %.3g mm; give the unit.", d*1000, d*25.4)
	if d >= tinyPart {
		hint = fmt.Sprintf("if the numbers are inches it is %.3g mm, "+
			"if centimetres %.3g mm; give the unit.", d*25.4, d*10)
	}
	if d > hugePart {
		hint = "if that is too large, the numbers are in a unit smaller than any that can " +
			"be given here; scale them to millimetres."
	}
	in.warn("The file states no unit and millimetres are assumed, "+
		"which makes the scan about %.3g mm from corner to corner: %s", d, hint)
}

// moveNearZero is what mends a file of too little precision.
const moveNearZero = "move the part near zero, or export double precision"

// coarse says that single precision numbers, as one of a point near the part is, lie so far
// from zero that their steps show; "" where they do not.
func coarse(g *gathered, near r3.Vector, scale float64) string {
	far := max(math.Abs(near.X), math.Abs(near.Y), math.Abs(near.Z))
	// Single precision has 24 bits: numbers from 2^e on are 2^(e-23) apart.
	step := math.Exp2(math.Floor(math.Log2(far))-23) * scale
	if g.single == nil || !(step >= coarseStep) || math.IsInf(step, 0) {
		return ""
	}
	return fmt.Sprintf("numbers are in single precision and about %.3g mm from zero, "+
		"where their steps are %.2g mm: finer shape is lost", far*scale, step)
}
