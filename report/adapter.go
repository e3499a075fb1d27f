package report

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/golang/geo/s1"

	"spotface/bolt/pattern"
	"spotface/bolt/sizes"
	"spotface/report/wording"
)

// AdapterOptions of NewAdapter. Thickness is required; what else is zero is chosen.
type AdapterOptions struct {
	Thickness float64 // of the plate, mm
	// Edge is the material from the outermost hole to the outline, mm; zero: a fastener's
	// diameter. Web is the least material between two holes, mm; zero: half of one.
	Edge, Web float64
	// Turn of B's pattern on the plate, from A's first hole to B's first, counter-clockwise
	// looking at A's face. Nil: the turn that leaves most material.
	Turn *s1.Angle
}

// Adapter is a plate that joins two parts: A on its lower side, z = 0, B on its upper. Seen
// from above, x runs from the centre of A's pattern through A's first hole. Lengths are mm.
type Adapter struct {
	Thickness float64       `json:"thickness"`
	Outside   float64       `json:"outside"` // diameter of the round outline about the origin
	Bore      *AdapterBore  `json:"bore,omitempty"`
	Holes     []AdapterHole `json:"holes"`
	// TurnDeg is from A's first hole to B's first.
	TurnDeg float64 `json:"turn_deg"`
	// Web is the least material between two holes, and Between names them.
	Web     float64  `json:"web"`
	Between []string `json:"between,omitempty"`
	Notes   []string `json:"notes,omitempty"`
}

// AdapterBore is the opening that both parts leave free.
type AdapterBore struct {
	XY       [2]float64 `json:"xy"`
	Diameter float64    `json:"diameter"`
}

// AdapterHole is a hole through the plate.
type AdapterHole struct {
	ID       string     `json:"id"` // "A/H1": of part A, its hole H1
	XY       [2]float64 `json:"xy"`
	Diameter float64    `json:"diameter"`
	// Thread is the fastener that the hole is drilled to be tapped for; empty: it is a
	// clearance hole.
	Thread string `json:"thread,omitempty"`
	// Counterbore takes the head of a screw, from the upper side or, if Below, the lower.
	Counterbore *Counterbore `json:"counterbore,omitempty"`
	Below       bool         `json:"below,omitempty"`
}

// widest is the radius that the hole has anywhere, mm.
func (h AdapterHole) widest() float64 {
	if h.Counterbore != nil {
		return h.Counterbore.Diameter / 2
	}
	return h.Diameter / 2
}

// NewAdapter returns the plate for two patterns, joined with the fasteners that up found
// for parts that bolt up by themselves, or that each pattern's smallest hole takes, or of
// fastener, mm, where that is not zero. A hole that is threaded in its part is a clearance
// hole here, counterbored from the other side, where the other part lies on it; a clearance
// hole there is to be tapped here. It is an error if less material than Web is left, with
// the turn or fastener that would do.
func NewAdapter(a, b *Pattern, up *BoltUp, bopt BoltUpOptions, opt AdapterOptions) (*Adapter,
	error) {
	if !(opt.Thickness > 0) {
		return nil, errors.New("an adapter needs a thickness above zero")
	}
	joined := len(up.Ways) > 0 && up.Verdict != Nonconforming && opt.Turn == nil
	parts := bopt.seen(a, b)
	first := angleOf(parts[0].part.XY[0])
	var fasteners [2]sizes.Fastener
	var sides [2][]AdapterHole
	var circles [2][]pattern.Circle
	var err error
	for i, p := range parts {
		if fasteners[i], err = p.fastener(cmp.Or(bopt.Fastener, p.Fastener)); err != nil {
			return nil, err
		}
		if sides[i], err = p.plateHoles("AB"[i:i+1], fasteners[i], opt.Thickness, joined); err != nil {
			return nil, err
		}
		for k, xy := range p.part.XY {
			h := &sides[i][k]
			h.XY, h.Below = turnedBy(xy, -first), i == 1
			circles[i] = append(circles[i], pattern.Circle{XY: h.XY, Radius: h.widest()})
		}
	}
	thickest := max(fasteners[0].Diameter, fasteners[1].Diameter)
	web := cmp.Or(opt.Web, thickest/2)
	out := &Adapter{Thickness: opt.Thickness, Holes: sides[0], Web: math.Inf(1)}
	shift, turn, best := [2]float64{}, 0.0, pattern.Web{}
	firstOfB := angleOf(sides[1][0].XY)
	if joined {
		turn, shift = up.Ways[0].TurnDeg*math.Pi/180, turnedBy(up.Ways[0].Shift, -first)
		out.Notes = append(out.Notes, "The parts bolt up without it: the plate is a spacer, "+
			"and the same bolts go through all three.")
	} else {
		turns, err := pattern.Clock(circles[0], circles[1])
		if err != nil {
			return nil, err
		}
		best = turns[0]
		if turn = best.Turn.Radians(); opt.Turn != nil {
			turn = opt.Turn.Radians() - firstOfB
		}
		for _, h := range sides[1] {
			h.XY = turnedBy(h.XY, turn)
			out.Holes = append(out.Holes, h)
		}
	}
	out.TurnDeg = wholeTurn(firstOfB + turn)
	reach := 0.0
	for i, h := range out.Holes {
		reach = max(reach, math.Hypot(h.XY[0], h.XY[1])+h.widest())
		for _, g := range out.Holes[:i] {
			w := math.Hypot(h.XY[0]-g.XY[0], h.XY[1]-g.XY[1]) - h.widest() - g.widest()
			if w < out.Web {
				out.Web, out.Between = w, []string{g.ID, h.ID}
			}
		}
	}
	if out.Web < web {
		turned := "; no other turn leaves more"
		switch ofOne := out.Between[0][0] == out.Between[1][0]; {
		case joined || ofOne:
			turned = "; no turn changes that"
		case opt.Turn != nil:
			turned = fmt.Sprintf("; the best turn (--turn %.2f) leaves %.2f mm",
				wholeTurn(firstOfB+best.Turn.Radians()), best.Least)
		}
		if !(opt.Turn != nil && best.Least >= web) {
			turned += fmt.Sprintf(". Thinner fasteners than %s (--fastener) leave more; --web asks for less",
				wording.List(slices.Compact([]string{fasteners[0].Name, fasteners[1].Name})))
		}
		holes := "holes " + out.Between[0] + " and " + out.Between[1]
		left := fmt.Sprintf("only %.2f mm of material would be left between %s", out.Web, holes)
		if out.Web < 0 {
			left = fmt.Sprintf("%s would cut into each other by %.2f mm", holes, -out.Web)
		}
		return nil, fmt.Errorf("no plate is made: %s, where at least %.2f mm is asked for%s",
			left, web, turned)
	}
	out.Outside = 2 * (reach + cmp.Or(opt.Edge, thickest))
	out.bore(parts[0].Bore, parts[1].Bore, first, turn, shift, web)
	for i, f := range fasteners {
		if !joined && opt.Thickness < f.Diameter && sides[i][0].Thread != "" {
			out.Notes = append(out.Notes, fmt.Sprintf("A plate of %s mm holds a thread of %s by less than "+
				"one diameter.", wording.Short(opt.Thickness), f.Name))
		}
		if h := sides[i][0]; !joined && h.Thread == "" && h.Counterbore == nil {
			out.Notes = append(out.Notes, fmt.Sprintf("The drill for a thread of %s is not known here: %s "+
				"and its like are clearance holes, to be drilled and tapped by your own table.", f.Name, h.ID))
		}
	}
	out.Notes = slices.Compact(out.Notes)
	return out, nil
}

// angleOf is the direction of a place, rad, and wholeTurn an angle in degrees, from 0 to 360.
func angleOf(p [2]float64) float64 { return math.Atan2(p[1], p[0]) }

func wholeTurn(rad float64) float64 { return math.Mod(degrees(rad)+720, 360) }

// fastener is the standard one for the pattern's holes: of their thread, else the given
// one, mm, else the largest that enters all.
func (p *Pattern) fastener(given float64) (sizes.Fastener, error) {
	smallest := slices.Min(p.Diameter)
	f, ok := sizes.LargestFastener(smallest, sizes.Inch(smallest, 0.01))
	switch {
	case p.Thread > 0:
		f, ok = sizes.FastenerOf(p.Thread, sameThread*p.Thread)
	case given > 0:
		f, ok = sizes.FastenerOf(given, sameFastener)
	}
	if clear, _ := f.Holes(); !ok || clear == 0 {
		return f, fmt.Errorf("%s: no standard clearance hole is known for its fasteners: "+
			"give their diameter (--fastener)", p.Name)
	}
	return f, nil
}

// plateHoles are the holes of the plate for one part's pattern, without their places.
func (p *Pattern) plateHoles(part string, f sizes.Fastener, thickness float64,
	through bool) ([]AdapterHole, error) {
	clear, tap := f.Holes()
	var out []AdapterHole
	for _, id := range p.IDs {
		h := AdapterHole{ID: part + "/" + id, Diameter: clear}
		switch {
		case through:
		case p.Thread > 0:
			// A socket head is as high as the thread is thick (ISO 4762, from memory).
			h.Counterbore = &Counterbore{Depth: f.Diameter + headDeeper,
				Diameter: headOverDiameter*f.Diameter + headMore + clear - f.Diameter}
			if least := h.Counterbore.Depth + f.Diameter/2; thickness < least {
				return nil, fmt.Errorf("a plate of %s mm is too thin to sink the heads of %s: %.1f mm at least",
					wording.Short(thickness), f.Name, least)
			}
		case tap > 0:
			h.Diameter, h.Thread = tap, f.Name
		}
		out = append(out, h)
	}
	return out, nil
}

// bore opens what both bores leave free, as far as the holes leave material round it.
func (ad *Adapter) bore(a, b *AdapterBore, first, turn float64, shift [2]float64, web float64) {
	if a == nil || b == nil {
		ad.Notes = append(ad.Notes, "No bore was cut: not both parts have one.")
		return
	}
	ca, cb := turnedBy(a.XY, -first), turnedBy(turnedBy(b.XY, -first), turn)
	cb[0], cb[1] = cb[0]+shift[0], cb[1]+shift[1]
	ra, rb := a.Diameter/2, b.Diameter/2
	if rb < ra {
		ra, rb, ca, cb = rb, ra, cb, ca
	}
	// The largest circle in two circles: the smaller one, or what lies between both.
	r, xy := ra, ca
	if d := math.Hypot(cb[0]-ca[0], cb[1]-ca[1]); d+ra > rb {
		r = (ra + rb - d) / 2
		for i := range xy {
			xy[i] += (cb[i] - ca[i]) * (ra - r) / d
		}
	}
	free := r
	for _, h := range ad.Holes {
		r = min(r, math.Hypot(h.XY[0]-xy[0], h.XY[1]-xy[1])-h.widest()-web)
	}
	if r < free {
		ad.Notes = append(ad.Notes, fmt.Sprintf("Both parts leave a bore of %.2f mm free; "+
			"the holes leave less.", 2*free))
	}
	if r > 0 {
		ad.Bore = &AdapterBore{xy, 2 * r}
	}
}

func turnedBy(p [2]float64, turn float64) [2]float64 {
	sin, cos := math.Sincos(turn)
	return [2]float64{p[0]*cos - p[1]*sin, p[0]*sin + p[1]*cos}
}

// WriteAdapter writes it for a person.
func WriteAdapter(w io.Writer, ad *Adapter) error {
	var t strings.Builder
	say := func(s string, v ...any) { t.WriteString(wording.Wrap(fmt.Sprintf(s, v...), "")) }
	say("An adapter plate to start from: %s mm thick, %.2f mm outside, A below and B above.",
		wording.Short(ad.Thickness), ad.Outside)
	if ad.Bore != nil {
		say("Bore %.2f mm at %.3f, %.3f.", ad.Bore.Diameter, ad.Bore.XY[0], ad.Bore.XY[1])
	}
	say("B's first hole lies %.2f degrees from A's first, counter-clockwise from above; least "+
		"material between two holes %.2f mm (%s and "+
		"%s).", ad.TurnDeg, ad.Web, ad.Between[0], ad.Between[1])
	t.WriteString("\n")
	table := wording.Table{Head: []string{"<hole", "X, mm", "Y, mm", "diameter, mm", "<made"}}
	for _, h := range ad.Holes {
		made := "through"
		switch {
		case h.Thread != "":
			made = "tap " + h.Thread
		case h.Counterbore != nil:
			made = fmt.Sprintf("through, counterbore %.1f, %.1f deep, from %s", h.Counterbore.Diameter,
				h.Counterbore.Depth, map[bool]string{true: "below", false: "above"}[h.Below])
		}
		table.Add(h.ID, wording.Fixed(h.XY[0], 3), wording.Fixed(h.XY[1], 3),
			wording.Short(h.Diameter), made)
	}
	table.Write(&t)
	t.WriteString("\n")
	for _, n := range ad.Notes {
		say("Note: %s", n)
	}
	say("It is a place to start: strength, sealing, thread engagement and material are the " +
		"maker's to decide. A scan approves nothing. " + practice)
	_, err := io.WriteString(w, t.String())
	return err
}
