package drawing

import "gonum.org/v1/plot/vg"

// Looks, chosen by looking at the result; TestPicture and TestTemplateReadBack pin what must hold.
const (
	// circleParts is into how many lines a circle is cut that leaves the paper: on a circle
	// of 1 m they are within 5 micrometres of it.
	circleParts = 1440
	// margin of a sheet, mm: printers leave up to 5 mm white (common practice, no source).
	margin = 10
	// minOverlap and maxOverlap of neighbouring sheets, mm: for glue and register marks at
	// least, and so that each hole is whole on some sheet unless it is very large.
	minOverlap, maxOverlap = 12, 50
	// footer is the height, mm, of the notes on each sheet.
	footer = 34
	// bar is the length, mm, of the bars by which a print's scale is checked.
	bar = 100
	// crossArm is how far, mm, the arms of a centre cross go beyond the hole.
	crossArm = 6
	// room is what a picture leaves around the part for labels, as a share of its size.
	room = 0.15
	// pictureSize is the width of a picture, and small, normal and large its lettering.
	pictureSize          = 240 * mm
	small, normal, large = 2.6 * mm, 3.5 * mm, 5 * mm
	// pagePictureSize and pageRoom are width and room of a picture on a page. There a hole's
	// button is larger than the hole by touch.
	pagePictureSize = 120 * mm
	pageRoom        = 0.24
	touch           = 1.5 * mm
	// wholeArc, degrees, is how far a circle is seen at least that passes for whole: scans have gaps.
	wholeArc = 345
	// shades of a picture's inks, which smooth its lines.
	shades = 17
	// mostLabelled holes at most have their figures beside them; with more only names are written.
	mostLabelled = 24
	// arrowShare is how long the longest deviation is drawn, as a share of the part's size.
	arrowShare = 0.06
)

// Sheet is a size of paper.
type Sheet struct {
	Name          string
	Width, Height vg.Length
}

// Sheets by name (ISO 216; ANSI/ASME Y14.1 size A).
func Sheets() []Sheet {
	return []Sheet{{"A4", 210 * mm, 297 * mm}, {"Letter", 8.5 * vg.Inch, 11 * vg.Inch}}
}
