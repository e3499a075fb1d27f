//go:build outside

package page_test

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/page"
)

// browser is Chromium with a page open in it.
type browser struct {
	t   *testing.T
	ctx context.Context
}

// open writes a page and opens it; what the page says on its console fails the test.
func open(t *testing.T, p page.Page) *browser {
	t.Helper()
	return openText(t, write(t, p))
}

func openText(t *testing.T, text string) *browser {
	t.Helper()
	t.Logf("the page has %d bytes", len(text))
	file := filepath.Join(t.TempDir(), "page.html")
	require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
	ctx, end := context.WithTimeout(t.Context(), 2*time.Minute)
	ctx, stop := chromedp.NewContext(ctx, chromedp.WithAllocatorOptions(
		chromedp.NoSandbox, chromedp.Headless, chromedp.Flag("enable-unsafe-swiftshader", true)))
	said := chromedp.Console(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for m, err := range said {
			// Of a browser that draws by software alone, on any page.
			if err == nil && !strings.Contains(m.Text, "GPU stall due to ReadPixels") {
				assert.Fail(t, "on the console", "%v", m)
			}
		}
	}()
	t.Cleanup(func() { stop(); end(); <-done })
	b := &browser{t, ctx}
	b.do(chromedp.EmulateViewport(1180, 900), chromedp.Navigate("file://"+file))
	return b
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, steps...))
}

// of is what a script returns, or its promise brings.
func of[T any](b *browser, script string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err)
	return v
}

// keep keeps a screenshot of the whole page, to look at with -artifacts.
func (b *browser) keep(name string) {
	shot, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(filepath.Join(b.t.ArtifactDir(), name+".png"), shot, 0o644))
}

func (b *browser) theme(name string) {
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
	require.NoError(b.t, err)
}

// unfold opens the view and waits for its first picture; it returns how long that took, ms.
func (b *browser) unfold() float64 {
	return of[float64](b, `new Promise((done, fail) => {
		const from = performance.now(), view = document.getElementById('view');
		view.open = true;
		view.scrollIntoView();
		const wait = () => {
			const wrong = document.getElementById('trouble').textContent;
			if (wrong) fail(new Error(wrong));
			else if (document.getElementById('gl').dataset.drawn) done(performance.now() - from);
			else setTimeout(wait, 5);
		};
		wait();
	})`)
}

func demo(t *testing.T) page.Page {
	return measured(t, scansim.FusedOptions{Seed: 1, Voxel: 0.4, Noise: 0.02, Missing: 0.08, Junk: 3})
}

// The page of the demo comes up without a word on the console. A hole picked in the table, in
// the drawing or in the view is shown in all three. The view is no blank, and keys turn it.
func TestPageInABrowser(t *testing.T) {
	b := open(t, demo(t))
	b.keep("light")
	t.Logf("first picture after %.0f ms", b.unfold())

	// shown is what shows a hole as picked: row, circle, name in the view.
	shown := func() []string {
		return of[[]string](b, `new Promise(r => setTimeout(() =>
			r([...document.querySelectorAll('.picked')].map(e =>
				e.tagName.toLowerCase() + ' ' + (e.dataset.hole || e.textContent))), 100))`)
	}
	place := `(() => {
		const name = [...document.querySelectorAll('#names span')].find(s => s.textContent === 'H2');
		const r = name.getBoundingClientRect();
		return [r.x + r.width / 2, r.y + r.height / 2] })()`
	at := of[[]float64](b, place)
	b.do(chromedp.MouseClickXY(at[0], at[1]))
	assert.ElementsMatch(t, []string{"tr H2", "circle H2", "span H2"}, shown(), "by the view")
	b.do(chromedp.Click(chromedp.CSS(`tr[data-hole="H5"] button`)))
	assert.ElementsMatch(t, []string{"tr H5", "circle H5", "span H5"}, shown(), "by the table")
	b.do(chromedp.Focus(chromedp.CSS(`circle[data-hole="H3"]`)), chromedp.KeyEvent("\r"))
	assert.ElementsMatch(t, []string{"tr H3", "circle H3", "span H3"}, shown(),
		"by the drawing, from the keyboard")
	assert.Contains(t, of[string](b, `document.getElementById('picked').textContent`), "H3: X, mm ")

	shot, err := chromedp.Run(b.ctx, chromedp.Screenshot(chromedp.CSS("canvas")))
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(shot))
	require.NoError(t, err)
	colours := map[any]bool{}
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			colours[img.At(x, y)] = true
		}
	}
	assert.Greater(t, len(colours), 100, "the view is blank")

	// apart is how far H2 and H5 lie apart in the view, which turning and zooming change.
	apart := func() float64 {
		shown()
		return of[float64](b, `(() => {
			const names = [...document.querySelectorAll('#names span')];
			const [p, q] = ['H2', 'H5'].map(id => names.find(s => s.textContent === id).style);
			const less = side => parseFloat(p[side]) - parseFloat(q[side]);
			return Math.hypot(less('left'), less('top'));
		})()`)
	}
	middle := of[[]float64](b, `(() => {
		document.getElementById('gl').scrollIntoView();
		const r = document.getElementById('gl').getBoundingClientRect();
		return [r.x + r.width / 2, r.y + r.height / 2];
	})()`)
	x, y := middle[0], middle[1]
	was := apart()
	b.do(chromedp.Focus(chromedp.CSS("#gl")), chromedp.KeyEvent("+"))
	assert.InEpsilon(t, 1.2*was, apart(), 0.01, "by the key")
	was = apart()
	b.do(chromedp.MouseEvent(chromedp.MouseWheel, x, y, func(p *input.DispatchMouseEventParams) {
		p.DeltaX, p.DeltaY = 1, 100
	}))
	assert.InEpsilon(t, was*math.Exp(-0.2), apart(), 0.01, "by the wheel")
	was = apart()
	b.do(chromedp.DragAndDropXY(x, y, x+60, y+80))
	assert.Greater(t, math.Abs(apart()/was-1), 0.02, "turned by the mouse")
	was = apart()
	for _, touch := range []struct {
		what input.DispatchTouchEventType
		at   []float64 // from the middle
	}{
		{input.DispatchTouchEventTypeTouchStart, []float64{-50, 50}},
		{input.DispatchTouchEventTypeTouchMove, []float64{-100, 50}},
		{input.DispatchTouchEventTypeTouchMove, []float64{-100, 100}},
		{input.DispatchTouchEventTypeTouchEnd, nil},
	} {
		p := input.DispatchTouchEventParams{Type: touch.what, TouchPoints: []*input.TouchPoint{}}
		for i, dx := range touch.at {
			id := float64(i)
			p.TouchPoints = append(p.TouchPoints, &input.TouchPoint{X: x + dx, Y: y, ID: &id})
		}
		_, err := chromedp.Call(b.ctx, input.DispatchTouchEvent, p)
		require.NoError(t, err)
	}
	assert.InEpsilon(t, 2*was, apart(), 0.01, "by two fingers, twice as far apart")

	// Sorted by the column "off", the hole that is off is last, and first when asked again.
	order := of[[]string](b, `(() => {
		const buttons = [...document.querySelectorAll('.drill .sort')];
		const button = buttons.find(b => b.textContent.startsWith('off'));
		const rows = () => [...document.querySelectorAll('.drill tbody tr')].map(r => r.dataset.hole);
		button.click();
		const up = rows();
		button.click();
		return [up[5], rows()[0], csv(document.querySelector('.drill')).split('\r\n')[1].split(',')[0]];
	})()`)
	assert.Equal(t, []string{"H5", "H5", "H5"}, order)
	b.keep("open")
	b.theme("dark")
	shown()
	b.keep("dark")
}

// Printed, the demo's page is one sheet of A4 and one of Letter, and so is that of a part with
// 36 holes.
func TestPrintIsOnePage(t *testing.T) {
	sizes := map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter}
	for part, p := range map[string]page.Page{"demo": demo(t), "many": {Report: manyHoles(36)}} {
		b := open(t, p)
		for paper, size := range sizes {
			pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size),
				chromedp.PDFPreferCSSPageSize()))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(t.ArtifactDir(), part+paper+".pdf"), pdf, 0o644))
			assert.Equal(t, 1, bytes.Count(pdf, []byte("/Type /Page\n")), "%s, %s", part, paper)
		}
	}
}

// manyHoles is a bolt circle of n holes.
func manyHoles(n int) *report.Report {
	zero := 0.0
	rep := &report.Report{Schema: report.Schema,
		Scan: report.Scan{File: "ring.stl", Noise: 0.02, Points: 1e5},
		Frame: &report.Frame{X: report.Vec{1}, Y: report.Vec{0, 1}, Z: report.Vec{0, 0, 1},
			Face: "P1", Axis: "B1", Clock: "H1"}}
	b := report.BoltCircle{ID: "B1", PitchDiameter: 250,
		Nominal: &report.Nominal{Positions: n, SpacingDeg: 360 / float64(n), FullRing: true}}
	for i := range n {
		id, deg := fmt.Sprintf("H%d", i+1), 360*float64(i)/float64(n)
		sin, cos := math.Sincos(deg * math.Pi / 180)
		at := [2]float64{125 * cos, 125 * sin}
		rep.Holes = append(rep.Holes, report.Hole{ID: id, Kind: "round", Diameter: 9, XY: &at,
			Centre: report.Vec{at[0], at[1]}})
		b.Holes = append(b.Holes, id)
		b.Clocking = append(b.Clocking, report.Clocking{Hole: id, AngleDeg: deg, DeviationDeg: &zero,
			FromPatternDeg: &zero, UncertaintyDeg: 0.03, OnPattern: true})
	}
	rep.BoltCircles = []report.BoltCircle{b}
	return rep
}

// axe-core, of the npm registry, finds nothing serious, with everything unfolded, in either
// theme and also on a phone; nor does the page as a whole scroll sideways there.
func TestAxeFindsNothingSerious(t *testing.T) {
	dir := t.TempDir()
	install := exec.Command("npm", "install", "--silent", "axe-core@4.10.3")
	install.Dir = dir
	out, err := install.CombinedOutput()
	require.NoError(t, err, "%s", out)
	axe, err := os.ReadFile(filepath.Join(dir, "node_modules", "axe-core", "axe.min.js"))
	require.NoError(t, err)
	b := open(t, demo(t))
	b.unfold()
	of[bool](b, `for (const d of document.querySelectorAll('details')) d.open = true; true`)
	b.inspect(string(axe))
	openText(t, writeSummary(t, lids(t))).inspect(string(axe))
}

// inspect runs axe-core in either theme, on a desk and on a phone.
func (b *browser) inspect(axe string) {
	t := b.t
	of[bool](b, axe+"; true")
	for _, theme := range []string{"light", "dark"} {
		for _, width := range []int64{1180, 390} {
			b.theme(theme)
			b.do(chromedp.EmulateViewport(width, 900))
			for _, v := range of[[]string](b, `axe.run().then(r => r.violations.map(v =>
				[v.impact, v.id, v.help, ...v.nodes.slice(0, 3).map(n => n.html)].join(' | ')))`) {
				t.Logf("%s at %d: %s", theme, width, v)
				assert.NotRegexp(t, "^(serious|critical)", v)
			}
			assert.LessOrEqual(t, of[float64](b, `document.documentElement.scrollWidth`), float64(width))
			b.keep(fmt.Sprintf("%s-%d", theme, width))
		}
	}
}
