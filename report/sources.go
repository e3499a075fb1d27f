package report

import (
	"math"
	"strings"

	"spotface/report/budget"
)

// Names of the sources of uncertainty, as a budget prints them. A reference length
// is "reference diameter C1", by what was taken of what.
const (
	SourceNoise       = "scan noise"
	SourceSmoothing   = "smoothing by the scan"
	SourceDatum       = "datum"
	SourceLength      = "scanner length error"
	SourceCoating     = "coating thickness"
	SourceTemperature = "part temperature"
	SourceExpansion   = "expansion coefficient"
	SourceScatter     = "disagreement of reference lengths"
	SourceReference   = "reference " // and what it is of
)

// BudgetLine is one source of a result's uncertainty.
type BudgetLine struct {
	Source       string  `json:"source"`
	Value        float64 `json:"value"`
	Unit         string  `json:"unit,omitempty"`
	Standard     float64 `json:"standard_uncertainty"`
	Distribution string  `json:"distribution"`
	DoF          float64 `json:"dof,omitempty"` // absent: so many that they do not matter
	Sensitivity  float64 `json:"sensitivity"`   // unit of the result a unit of the source
	Contribution float64 `json:"contribution"`  // standard uncertainty that it brings, in the result's unit
	Share        float64 `json:"share"`         // of the result's variance, 0 to 1
}

// fromScan reports whether a better scan makes the source smaller.
func (l *BudgetLine) fromScan() bool {
	return l.Source == SourceNoise || l.Source == SourceSmoothing || l.Source == SourceDatum
}

// sources are the independent inputs that a number depends on. An input that
// enters by two ways, such as a coat through a diameter and through the scale, is
// one input with the sum of its sensitivities: that is all there is to correlation
// here.
type sources struct {
	keys []string
	list []budget.Source
}

// add adds an input; feature tells it from like inputs of others, empty where all
// features share it.
func (s *sources) add(name, feature string, value float64, unit string, u budget.Standard, sensitivity float64) {
	key := name + "|" + feature
	for i, k := range s.keys {
		if k == key {
			s.list[i].Sensitivity += sensitivity
			return
		}
	}
	s.keys = append(s.keys, key)
	s.list = append(s.list, budget.Source{Name: name, Value: value, Unit: unit, Standard: u, Sensitivity: sensitivity})
}

// addAll adds the inputs of o, their sensitivities times factor.
func (s *sources) addAll(o *sources, factor float64) {
	for i, k := range o.keys {
		src := o.list[i]
		_, feature, _ := strings.Cut(k, "|")
		s.add(src.Name, feature, src.Value, src.Unit, src.Standard, src.Sensitivity*factor)
	}
}

// covariance of two numbers that depend on shared inputs.
func (s *sources) covariance(o *sources) float64 {
	sum := 0.0
	for i, k := range s.keys {
		for j, l := range o.keys {
			if k == l {
				sum += s.list[i].Sensitivity * o.list[j].Sensitivity * s.list[i].U * s.list[i].U
			}
		}
	}
	return sum
}

func (s *sources) combined() budget.Standard { return budget.Budget{Sources: s.list}.Combined() }

// lines are the budget as a report prints it, the largest share first as it stands.
func (s *sources) lines() []BudgetLine {
	b := budget.Budget{Sources: s.list}
	shares := b.Shares()
	if shares == nil {
		return nil
	}
	out := make([]BudgetLine, len(s.list))
	for i, l := range s.list {
		d := l.Distribution
		if d == "" {
			d = budget.Normal
		}
		dof := l.DoF
		if math.IsInf(dof, 1) {
			dof = 0
		}
		out[i] = BudgetLine{Source: l.Name, Value: l.Value, Unit: l.Unit, Standard: l.U, Distribution: string(d),
			DoF: dof, Sensitivity: l.Sensitivity, Contribution: l.Contribution(), Share: shares[i]}
	}
	return out
}

// seen is an expanded uncertainty that the scan shows of a number, of which the
// part unseen comes from no residual; ok is false where it is not known.
func (s *sources) seen(feature string, value float64, unit string, expanded, unseen, sensitivity float64) (ok bool) {
	if !(expanded > 0) {
		return false
	}
	noise := math.Sqrt(max(expanded*expanded-unseen*unseen, 0)) / coverage
	s.add(SourceNoise, feature, value, unit, budget.Standard{U: noise}, sensitivity)
	if unseen > 0 {
		s.add(SourceSmoothing, feature, 0, unit, budget.Standard{U: unseen / coverage}, sensitivity)
	}
	return true
}

// fromPlan is the standard uncertainty that the plan's sources bring.
func fromPlan(lines []BudgetLine) float64 {
	sum := 0.0
	for _, l := range lines {
		if !l.fromScan() {
			sum += l.Contribution * l.Contribution
		}
	}
	return math.Sqrt(sum)
}
