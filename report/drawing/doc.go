// Package drawing draws the plan view of a measured part: as a picture with its holes named,
// and as a template on paper, 1:1, to lay on a part.
//
// Input is a report.Report. Everything is drawn looking at the mounting face, in the part's
// frame: X to the right through the clocking hole, Y up, millimetres. Drawings are plain line
// drawings (ISO 128: wide continuous lines for edges, narrow chain lines for centre lines).
// It chooses no figures of its own: what is written beside the holes is the report's.
package drawing
