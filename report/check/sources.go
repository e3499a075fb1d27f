package check

import (
	"cmp"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"spotface/report"
	"spotface/report/budget"
)

// sources are the independent inputs that a number depends on. An input that
// enters by two ways, such as a coat through a diameter and through the scale, is
// one input with the sum of its sensitivities: that is all there is to correlation
// here.
type sources struct {
	keys []string
	list []budget.Source
}

// add adds an input. feature distinguishes it from the same input of other features; it is
// empty where all share it.
func (s *sources) add(name, feature string, value float64, unit string, u budget.Standard,
	sensitivity float64) {
	key := name + "|" + feature
	for i, k := range s.keys {
		if k == key {
			s.list[i].Sensitivity += sensitivity
			return
		}
	}
	s.keys = append(s.keys, key)
	s.list = append(s.list, budget.Source{Name: name, Value: value, Unit: unit, Standard: u,
		Sensitivity: sensitivity})
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

// covarianceOf is the joint covariance of numbers by what they depend on.
func covarianceOf(depends []*sources) *mat.SymDense {
	v := mat.NewSymDense(len(depends), nil)
	for i, d := range depends {
		for j := i; j < len(depends); j++ {
			v.SetSym(i, j, d.covariance(depends[j]))
		}
	}
	return v
}

func (s *sources) combined() budget.Standard { return budget.Combined(s.list) }

// lines are the budget as a report prints it, in the order of the sources.
func (s *sources) lines() []report.BudgetLine {
	out := make([]report.BudgetLine, len(s.list))
	u := s.combined().U
	for i, l := range s.list {
		c := l.Contribution()
		out[i] = report.BudgetLine{Source: l.Name, Value: l.Value, Unit: l.Unit, Standard: l.U,
			Distribution: string(cmp.Or(l.Distribution, budget.Normal)), DoF: l.DoF,
			Sensitivity: l.Sensitivity, Contribution: c, Share: c * c / (u * u)}
	}
	return out
}

// seen adds the expanded uncertainty that the scan shows of a number. Its part unseen comes from
// no residual. ok is false where it is not known.
func (s *sources) seen(feature string, value float64, unit string, expanded, unseen,
	sensitivity float64) (ok bool) {
	if !(expanded > 0) {
		return false
	}
	noise := math.Sqrt(max(expanded*expanded-unseen*unseen, 0)) / report.Coverage
	s.add(report.SourceNoise, feature, value, unit, budget.Standard{U: noise}, sensitivity)
	if unseen > 0 {
		s.add(report.SourceSmoothing, feature, 0, unit,
			budget.Standard{U: unseen / report.Coverage}, sensitivity)
	}
	return true
}

// fromPlan is the standard uncertainty that the plan's sources bring.
func fromPlan(lines []report.BudgetLine) float64 {
	sum := 0.0
	for _, l := range lines {
		if !l.FromScan() {
			sum += l.Contribution * l.Contribution
		}
	}
	return math.Sqrt(sum)
}
