package report

import (
	"fmt"
	"math"
	"strings"

	"spotface/report/wording"
)

// name is "diameter C1 (C2 here)".
func (l *ScaleLength) name() string {
	s := plain(l.Of) + " " + strings.Join(l.Features, " to ")
	if len(l.Matched) > 0 {
		s += " (" + strings.Join(l.Matched, " to ") + " here)"
	}
	return s
}

// sentences say whether the scan's scale agrees, or what set it.
func (s *Scale) sentences(unit lengthUnit) []string {
	var out []string
	if s.Set {
		n := 0
		for _, l := range s.Lengths {
			if l.SetScale {
				n++
			}
		}
		line := fmt.Sprintf("The scale is set by %s taken by hand: judged lengths are "+
			"multiplied by %s +-%s", wording.Things(n, "length"),
			wording.Fixed(s.Factor, 5), wording.Fixed(s.Uncertainty, 5))
		switch short := 100 * (s.Factor - 1); {
		case math.Abs(short) < 0.0005:
			line += "."
		case short > 0:
			line += fmt.Sprintf(" (the scan reads %s %% short).", wording.Digits(short))
		default:
			line += fmt.Sprintf(" (the scan reads %s %% long).", wording.Digits(-short))
		}
		out = append(out, line)
	}
	for i := range s.Lengths {
		l := &s.Lengths[i]
		if s.Set && l.SetScale {
			continue
		}
		length := func(mm float64) Number { return unit.number(mm, l.Uncertainty) }
		line := fmt.Sprintf("%s: %s by hand, %s scanned, %s %s between them", l.name(),
			length(l.Value), length(l.Scanned), length(l.Difference).SignedU(), unit.name)
		if l.Agrees {
			out = append(out, "Scale checked by "+line+": they agree.")
			continue
		}
		out = append(out,
			fmt.Sprintf("The scan's scale disagrees with %s. Every length of this report may "+
				"be off by %s %%; angles are not. %s",
				line, wording.Digits(100*math.Abs(l.Difference)/l.Value), remedy(s.Set)))
	}
	if s.DoF > 0 && s.disagreeOnly() {
		out = append(out,
			fmt.Sprintf("The lengths taken by hand disagree with each other (chi-squared %s "+
				"for %s): take them again, one of them is of another feature or misread.",
				wording.Fixed(s.ChiSquared, 1), wording.Things(s.DoF, "degree")+" of freedom"))
	}
	return out
}

// disagreeOnly reports whether the lengths agree with the scan one by one, or set
// its scale, but not with each other.
func (s *Scale) disagreeOnly() bool {
	if s.Agrees {
		return false
	}
	for _, l := range s.Lengths {
		if !l.Agrees && !l.SetScale {
			return false
		}
	}
	return true
}

// remedy says what a difference may come from.
func remedy(set bool) string {
	if set {
		return "Take the lengths again, and check the scanner's calibration."
	}
	return "Take the length again, check the scanner's calibration, or let the length set " +
		"the scale (set_scale: true)."
}
