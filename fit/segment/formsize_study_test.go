//go:build study

package segment_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/form"
	"spotface/fit/segment"
	"spotface/fit/zone"
	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/formed"
	"spotface/mesh/scansim/trials"
)

// measuredForm is the flatness or cylindricity of a surface, from its points away from
// edges, and from what its residuals would be without form.
func measuredForm(s *mesh.Scan, seg *segment.Segmentation, u *segment.Surface) (form.Form, bool) {
	var pts, in []r3.Vector
	for _, i := range u.Points {
		pts = append(pts, s.Point(int(i)))
		if seg.Interior != nil && seg.Interior[i] {
			in = append(in, s.Point(int(i)))
		}
	}
	if 3*len(in) >= len(pts) {
		pts = in
	}
	sigma := 0.0
	if rms := u.Fit.Statistics().RMS; u.Form.RMS > 0 {
		sigma = math.Sqrt(max(0, rms*rms-u.Form.RMS*u.Form.RMS))
	}
	switch f := u.Fit.(type) {
	case fit.PlaneFit:
		return form.Flatness(pts, f.Plane, sigma)
	case fit.CylinderFit:
		if u.Arc.Degrees() >= 270 {
			return form.Cylindricity(pts, f.Cylinder, u.Extent, sigma)
		}
	}
	return form.Form{}, false
}

// surfaceOn returns the largest surface on the true face f.
func surfaceOn(seg *segment.Segmentation, f scansim.Face) *segment.Surface {
	stats, ok := residualsOf(seg, f)
	if !ok {
		return nil
	}
	k := slices.IndexFunc(seg.Surfaces, func(u segment.Surface) bool { return u.Fit.Statistics() == stats })
	return &seg.Surfaces[k]
}

// Form as measured against the minimum zone of the noiseless formed face.
func TestStudyFormSize(t *testing.T) {
	seeds := trials.Asked(5)
	tab := trials.Table{
		Title: "Size of the form of parts with form",
		About: "Mounting faces, rims and bores of formed.Kinds whose form is more than the noise, as meshes and clouds with the\n" +
			"seeds from 0: flatness or cylindricity over the minimum zone of 20,000 points of the noiseless face, median, lowest\n" +
			"and highest; how many are within 20 %; how many intervals hold it; how many may be noise, or were not found.\n\n" +
			"    go test -tags study -run StudyFormSize -timeout 0 ./fit/segment",
		Head: []string{"part", "scan", "face", "zone, mm", "median", "lowest", "highest", "within 20 %", "held", "or noise", "not found", "of"},
	}
	for _, k := range formed.Kinds() {
		for _, scan := range []string{"mesh", "cloud"} {
			rows := map[string]*sizeRow{}
			for seed := range uint64(seeds) {
				s, tr, seg := formScan(t, k, scan == "cloud", seed)
				for _, f := range tr.Faces {
					if !slices.Contains([]string{"mounting", "outer", "bore"}, f.Role) {
						continue
					}
					kind := map[scansim.Shape]fit.Kind{scansim.Plane: fit.KindPlane, scansim.Cylinder: fit.KindCylinder}[f.Shape]
					face, rms := formOf(t, k.Part(seed), &tr, f)
					if rms < tr.Noise || f.Shape != scansim.Plane && f.Shape != scansim.Cylinder {
						continue
					}
					_, want, err := zone.To(kind, k.Part(seed).Points(f.ID, formPoints), zone.Minimum)
					require.NoError(t, err)
					if rows[f.Role] == nil {
						rows[f.Role] = &sizeRow{}
					}
					rows[f.Role].add(s, seg, face, want.Width)
				}
			}
			for _, role := range []string{"mounting", "outer", "bore"} {
				if r := rows[role]; r != nil {
					tab.Rows = append(tab.Rows, append([]string{k.Name, scan, role}, r.cells()...))
				}
			}
		}
	}
	tab.Write(t, "../..", "form-size")
}

// sizeRow is what came of one kind of face.
type sizeRow struct {
	zone, ratio               []float64
	within, held, noise, lost int
}

func (r *sizeRow) add(s *mesh.Scan, seg *segment.Segmentation, face scansim.Face, want float64) {
	r.zone = append(r.zone, want)
	u := surfaceOn(seg, face)
	if u == nil {
		r.lost++
		return
	}
	got, ok := measuredForm(s, seg, u)
	if !ok {
		r.lost++
		return
	}
	r.ratio = append(r.ratio, got.Width/want)
	if math.Abs(got.Width-want) <= 0.2*want {
		r.within++
	}
	if math.Abs(got.Width-want) <= got.Expanded {
		r.held++
	}
	if got.OrNoise {
		r.noise++
	}
}

func (r *sizeRow) cells() []string {
	slices.Sort(r.zone)
	slices.Sort(r.ratio)
	out := []string{fmt.Sprintf("%.2f", r.zone[len(r.zone)/2])}
	if n := len(r.ratio); n > 0 {
		out = append(out, fmt.Sprintf("%.2f", r.ratio[n/2]), fmt.Sprintf("%.2f", r.ratio[0]), fmt.Sprintf("%.2f", r.ratio[n-1]))
	} else {
		out = append(out, "", "", "")
	}
	for _, n := range []int{r.within, r.held, r.noise, r.lost, len(r.zone)} {
		out = append(out, fmt.Sprint(n))
	}
	return out
}
