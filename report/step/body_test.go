package step_test

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/golang/geo/r2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report/step"
)

// ring is a plate with six holes, one of them countersunk, a slot and a counterbored bore.
func ring() step.Body {
	centre := r2.Point{}
	outside, bore, counterbore := step.Circle(centre, 54), step.Circle(centre, 20), step.Circle(centre, 25)
	slot := step.Stadium(r2.Point{X: -5, Y: 33}, r2.Point{X: 5, Y: 33}, 2)
	b := step.Body{Name: "kettle port ring"}
	top := step.Floor{Name: "P1", Z: 0, Up: true, Outer: outside, Inner: []step.Contour{counterbore, slot}}
	bottom := step.Floor{Name: "P2", Z: -10, Outer: outside, Inner: []step.Contour{bore, slot}}
	b.Walls = append(b.Walls, step.Straight("C1", outside, -10, 0, false), step.Straight("slot", slot, -10, 0, true),
		step.Straight("bore", bore, -10, -4, true), step.Straight("counterbore", counterbore, -4, 0, true))
	for i := range 6 {
		angle := float64(i) * math.Pi / 3
		at := r2.Point{X: 42 * math.Cos(angle), Y: 42 * math.Sin(angle)}
		hole, mouth, name := step.Circle(at, 3.3), step.Circle(at, 3.3), fmt.Sprintf("H%d", i+1)
		depth := 0.0
		if i == 0 {
			mouth, depth = step.Circle(at, 6.3), 3
			b.Walls = append(b.Walls, step.Wall{Name: name + " countersink", Z0: -depth, Z1: 0, Low: hole, High: mouth, Internal: true})
		}
		b.Walls = append(b.Walls, step.Straight(name, hole, -10, -depth, true))
		top.Inner = append(top.Inner, mouth)
		bottom.Inner = append(bottom.Inner, hole)
	}
	b.Floors = append(b.Floors, top, bottom, step.Floor{Name: "seat", Z: -4, Up: true, Outer: counterbore, Inner: []step.Contour{bore}})
	return b
}

// ringVolume is by hand: cylinders, a stadium, and a countersink as a frustum less its hole.
func ringVolume() float64 {
	disc := func(r, h float64) float64 { return math.Pi * r * r * h }
	frustum := math.Pi * 3 / 3 * (6.3*6.3 + 6.3*3.3 + 3.3*3.3)
	return disc(54, 10) - disc(20, 6) - disc(25, 4) - 6*disc(3.3, 10) - (frustum - disc(3.3, 3)) - 10*(math.Pi*4+10*4)
}

func TestVolumeByHand(t *testing.T) {
	b := ring()
	assert.InEpsilon(t, ringVolume(), volumeOf(&b), 1e-12)
	assert.Empty(t, b.Open())
}

func TestOpenFacesAreNamed(t *testing.T) {
	b := ring()
	b.Floors = b.Floors[:1]
	assert.Equal(t, []string{"C1", "slot", "bore", "counterbore", "H1", "H2", "H3", "H4", "H5", "H6"}, b.Open())
	var out bytes.Buffer
	require.NoError(t, step.Write(&out, step.Header{Name: "half"}, b))
	assert.Contains(t, out.String(), "OPEN_SHELL")
	assert.NotContains(t, out.String(), "MANIFOLD_SOLID_BREP")
}

// The clear text encoding of ISO 10303-21: every instance is defined once and before or
// after its use, and reals have a decimal point.
func TestEveryInstanceThatIsUsedIsDefined(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, step.Write(&out, step.Header{Name: "kettle's ring, 108 mm \u2300"}, ring()))
	text := out.String()
	require.True(t, strings.HasPrefix(text, "ISO-10303-21;\n") && strings.HasSuffix(text, "END-ISO-10303-21;\n"))
	assert.Contains(t, text, `'kettle''s ring, 108 mm \X2\2300\X0\'`)
	defined := map[string]int{}
	for _, m := range regexp.MustCompile(`(?m)^(#\d+)=`).FindAllStringSubmatch(text, -1) {
		defined[m[1]]++
	}
	for _, m := range regexp.MustCompile(`[(,](#\d+)`).FindAllStringSubmatch(text, -1) {
		require.Equal(t, 1, defined[m[1]], m[1])
	}
	assert.NotRegexp(t, `CARTESIAN_POINT\('',\([^)]*(^|,|\()-?\d+(,|\))`, text)
	assert.Less(t, len(text), 20_000, "bytes of a plate with six holes")
}

func TestWhatCannotBeWritten(t *testing.T) {
	b := ring()
	b.Floors[0].Z = math.NaN()
	assert.ErrorIs(t, step.Write(&bytes.Buffer{}, step.Header{}, b), step.ErrNotFinite)
	b = ring()
	b.Walls[0].Z0 = 5
	assert.ErrorContains(t, step.Write(&bytes.Buffer{}, step.Header{}, b), "C1")
}

func ExampleWrite() {
	rim := step.Circle(r2.Point{}, 20)
	pin := step.Body{
		Name: "pin",
		Floors: []step.Floor{{Name: "end", Z: 30, Up: true, Outer: rim},
			{Name: "foot", Z: 0, Outer: rim}},
		Walls: []step.Wall{step.Straight("side", rim, 0, 30, false)},
	}
	var file bytes.Buffer
	if err := step.Write(&file, step.Header{Name: "pin"}, pin); err != nil {
		fmt.Println(err)
	}
	fmt.Printf("%.1f mm³, open at %v\n", volumeOf(&pin), pin.Open())
	// Output: 37699.1 mm³, open at []
}

// volumeOf is the volume of a closed body, mm³.
func volumeOf(b *step.Body) float64 {
	volume, _ := b.Volume()
	return volume
}
