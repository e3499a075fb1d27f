package forecast

import "spotface/report"

// Schema is the name and version of a forecast's JSON form.
const Schema = "spotface-forecast/1"

// Forecast says what a scanner would see of a part that is exactly as planned.
type Forecast struct {
	Schema string `json:"schema"`
	Plan   string `json:"plan,omitempty"` // file name of the plan
	Part   string `json:"part,omitempty"`
	Scan   Scan   `json:"scan"`
	// Cases has one entry where the correlation length is known, else two: noise
	// that is independent from point to point, and noise that neighbours share.
	Cases []Case `json:"cases"`
	// Assumed says in sentences what the plan leaves open and how it was filled
	// in; LeftOut which features could not be simulated, and why.
	Assumed []string `json:"assumed"`
	LeftOut []string `json:"left_out"`
	// Precision is the share of each mean stated uncertainty within which, one
	// standard error, it was to be known before the trials stopped.
	Precision float64 `json:"precision"`
	Seed      uint64  `json:"seed"`
}

// Scan is the scan that was simulated, lengths in mm.
type Scan struct {
	Kind    Kind    `json:"kind"`
	Noise   float64 `json:"noise"` // standard deviation of a point
	Spacing float64 `json:"spacing"`
	// CorrelationLength is absent where it is not known.
	CorrelationLength *float64 `json:"correlation_length,omitempty"`
}

// Case is the forecast for one reading of the scanner's noise.
type Case struct {
	// CorrelationLength is where the noise's correlation along the surface has
	// fallen to 1/e, mm; 0 where it is independent from point to point.
	CorrelationLength float64 `json:"correlation_length"`
	Trials            int     `json:"trials"`
	Stable            bool    `json:"stable"` // the precision was reached
	Worst             float64 `json:"worst_error"`
	Points            int     `json:"points"` // of one scan, on average
	// OnHole is how many points are on the wall of a hole of the main circle.
	OnHole   int        `json:"points_on_hole,omitempty"`
	Expected []Expected `json:"expected"`
}

// Answer says whether a band can be judged.
type Answer string

const (
	// Yes: a good part is called conforming and a bad one nonconforming with 95 %
	// or more.
	Yes Answer = "yes"
	// Partly: less often than that, but at times.
	Partly Answer = "in part"
	// No: even a good part is never called conforming.
	No Answer = "no"
	// NotSeen: the feature is found in less than half of the scans.
	NotSeen Answer = "not seen"
	// Open: the band has one limit only, so no part is its middle.
	Open Answer = "one limit"
)

// Expected is the forecast of one characteristic, over all holes of a circle
// where it is one of theirs. Uncertainties are expanded, k = 2, in mm or degrees.
type Expected struct {
	Feature        string                `json:"feature"` // the plan's id
	Characteristic report.Characteristic `json:"characteristic"`
	Count          int                   `json:"count"` // of it on one part
	Unit           string                `json:"unit,omitempty"`
	Lower          *float64              `json:"lower,omitempty"`
	Upper          *float64              `json:"upper,omitempty"`
	// Seen is the share of the scans in which all of it was measured.
	Seen float64 `json:"seen"`
	// Uncertainty is what a check would state, the mean over scans and holes, with
	// its standard error. FromScan and FromPlan are its parts.
	Uncertainty      float64 `json:"uncertainty,omitempty"`
	UncertaintyError float64 `json:"uncertainty_error,omitempty"`
	FromScan         float64 `json:"uncertainty_from_scan,omitempty"`
	FromPlan         float64 `json:"uncertainty_from_plan,omitempty"`
	// Actual is what 95 % of the errors of the simulated scans do not exceed, to be
	// compared with FromScan; Covered is the share of them that FromScan covered.
	Actual  float64 `json:"actual,omitempty"`
	Covered float64 `json:"covered,omitempty"`
	// Ratio is half the band's width, or all that is allowed of a form error or a
	// zone, over Uncertainty. For two limits it is the measurement capability
	// index of JCGM 106:2012, 7.6.3, C_m = T/(4u).
	Ratio *float64 `json:"ratio,omitempty"`
	// GoodConforming is the share of good parts, in the middle of the band or of
	// perfect form, that are called conforming; BadNonconforming that of bad parts,
	// half a band's width outside or of 1.5 times the allowed form, that are called nonconforming.
	GoodConforming   *float64 `json:"good_told_conforming,omitempty"`
	BadNonconforming *float64 `json:"bad_told_nonconforming,omitempty"`
	Answer           Answer   `json:"can_be_judged"`
}
