package plan

// The plan file as YAML has it. Beside its key each field says the unit of its number
// (length: the plan's own, deg, K and so on), an example, and what it means: what
// "spotface help plan" and the schema print.

type file struct {
	Part        text           `yaml:"part" eg:"kettle port ring" say:"what the part is called"`
	Unit        text           `yaml:"unit" eg:"mm" say:"of the lengths in this plan: mm, cm, m, in or ft; mm where it is not said"`
	ScanUnit    text           `yaml:"scan_unit" eg:"in" say:"of the numbers in the scans' files, where those do not state it"`
	Frame       *fileFrame     `yaml:"frame" say:"what the datum frame is made of"`
	Scanner     *fileScanner   `yaml:"scanner" say:"what a scan does not show of itself"`
	Decision    text           `yaml:"decision" eg:"guarded" say:"guarded (ISO 14253-1), simple-acceptance or guarded-rejection"`
	Mates       truth          `yaml:"mates" eg:"false" say:"true: scans are of the part that goes onto this one, at its mating face"`
	BoltCircles []fileCircle   `yaml:"bolt_circles" say:"rings of like holes"`
	Holes       []fileHole     `yaml:"holes" say:"single holes"`
	Planes      []filePlane    `yaml:"planes" say:"flat faces"`
	Cylinders   []fileCylinder `yaml:"cylinders" say:"bores and outside diameters"`
}

type fileFrame struct {
	Face  text `yaml:"face" eg:"P1" say:"plane that Z points out of"`
	Axis  text `yaml:"axis" eg:"C1" say:"cylinder, bolt circle or hole whose axis is the origin"`
	Clock text `yaml:"clock" eg:"H1" say:"hole that X runs through: of the largest bolt circle by its place (H1, or B1/1), or of holes"`
}

type fileSize struct {
	Nominal number `yaml:"nominal" unit:"length" eg:"84" say:"the size that is meant; in inches it may be a fraction, 2 63/64"`
	Band    *band  `yaml:"band" unit:"length" eg:"[-0.2, 0.2]" say:"allowed deviations, measured less nominal; +-0.2 is the same"`
}

type fileSpacing struct {
	Nominal number `yaml:"nominal" unit:"deg" eg:"60" say:"from hole to hole; even over the turn where it is not said"`
	Band    *band  `yaml:"band" unit:"deg" eg:"+-0.25" say:"allowed deviations"`
}

type fileClocking struct {
	Band *band `yaml:"band" unit:"deg" eg:"+-0.25" say:"of each hole from the pattern turned to its best fit"`
}

type fileZone struct {
	Diameter number `yaml:"diameter" unit:"length" eg:"0.3" say:"of the true position zone of each hole"`
	Material text   `yaml:"material" eg:"mmc" say:"mmc: larger holes may lie farther off (maximum material condition)"`
	Within   number `yaml:"within" unit:"length" eg:"0.1" say:"of the zones about the pattern by itself (composite), of a bolt circle"`
}

type fileCircle struct {
	ID            text          `yaml:"id" eg:"B1" say:"its name, no other feature's"`
	Count         number        `yaml:"count" eg:"6" say:"how many holes"`
	Angles        *numbers      `yaml:"angles" unit:"deg" eg:"[0, 60, 120]" say:"of the holes from the first, counter-clockwise, instead of count"`
	Spacing       *fileSpacing  `yaml:"spacing" say:"angle from hole to hole"`
	PitchDiameter *fileSize     `yaml:"pitch_diameter" say:"of the circle through the hole centres"`
	HoleDiameter  *fileSize     `yaml:"hole_diameter" say:"of each hole"`
	Clocking      *fileClocking `yaml:"clocking" say:"angle of each hole"`
	Position      *fileZone     `yaml:"position" say:"place of each hole about the axis"`
	At            *numbers      `yaml:"at" unit:"length" eg:"[0, 0]" say:"its centre in the datum frame"`
}

type fileHole struct {
	ID       text      `yaml:"id" eg:"X1" say:"its name"`
	At       *numbers  `yaml:"at" unit:"length" eg:"[43.9, -4.6]" say:"x and y of its centre in the datum frame"`
	Diameter *fileSize `yaml:"diameter" say:"of the hole"`
	Position *fileZone `yaml:"position" say:"its place about at"`
}

type filePlane struct {
	ID       text     `yaml:"id" eg:"P1" say:"its name"`
	At       *numbers `yaml:"at" unit:"length" eg:"[0, 0, -12]" say:"a point of it in the datum frame"`
	Normal   *numbers `yaml:"normal" eg:"[0, 0, -1]" say:"its direction out of the material, in the datum frame"`
	Flatness number   `yaml:"flatness" unit:"length" eg:"0.3" say:"largest allowed"`
}

type fileCylinder struct {
	ID               text      `yaml:"id" eg:"C1" say:"its name"`
	Side             text      `yaml:"side" eg:"internal" say:"internal (a bore) or external"`
	At               *numbers  `yaml:"at" unit:"length" eg:"[0, 0]" say:"where its axis meets the face, or a point of it, in the datum frame"`
	Diameter         *fileSize `yaml:"diameter" say:"of the cylinder"`
	PerpendicularTo  text      `yaml:"perpendicular_to" eg:"P1" say:"datum plane of perpendicularity; the frame's face where it is not said"`
	Perpendicularity number    `yaml:"perpendicularity" unit:"length" eg:"0.1" say:"diameter of the zone that holds its axis"`
	Cylindricity     number    `yaml:"cylindricity" unit:"length" eg:"0.05" say:"largest allowed"`
}

type fileScanner struct {
	Noise             number           `yaml:"noise" unit:"length" eg:"0.03" say:"standard deviation of a point, for a forecast"`
	CorrelationLength number           `yaml:"correlation_length" unit:"length" eg:"1" say:"over which neighbours share it, for a forecast"`
	Spacing           number           `yaml:"spacing" unit:"length" eg:"0.4" say:"of neighbouring points, for a forecast"`
	Length            *fileLengthError `yaml:"length" say:"the scanner's own error of a length L: u = a + b L"`
	Coating           *fileCoating     `yaml:"coating" say:"a coat on the part: holes read small by twice its thickness"`
	Temperature       *fileTemperature `yaml:"temperature" say:"of the part while it was scanned; sizes hold at 20 degrees C"`
	ReferenceLengths  []fileReference  `yaml:"reference_lengths" say:"lengths taken by hand, that check or set the scale"`
}

type fileLengthError struct {
	A            number `yaml:"a" unit:"length" eg:"0.02" say:"part of each length's own"`
	B            number `yaml:"b" eg:"0.00004" say:"part that grows with the length"`
	Distribution text   `yaml:"distribution" eg:"rectangular" say:"where a + b L is a half-width"`
	K            number `yaml:"k" eg:"2" say:"where a + b L is expanded by it"`
	Confidence   number `yaml:"confidence" unit:"%" eg:"95" say:"where a + b L holds it with that"`
	DoF          number `yaml:"dof" eg:"9" say:"degrees of freedom"`
}

type fileCoating struct {
	Thickness number `yaml:"thickness" unit:"length" eg:"0.008" say:"of the coat"`
	Sure      stated `yaml:",inline"`
}

type fileTemperature struct {
	Part       number   `yaml:"part" unit:"deg C" eg:"24" say:"of the part"`
	Expansion  estimate `yaml:"expansion" unit:"1/K" eg:"11.5e-6" say:"coefficient of its material, or {value, u}"`
	ExpansionU number   `yaml:"expansion_u" unit:"1/K" eg:"1e-6" say:"standard uncertainty of it"`
	Sure       stated   `yaml:",inline"`
}

type fileReference struct {
	Diameter      *names `yaml:"diameter" eg:"C1" say:"of a hole or cylinder"`
	PitchDiameter *names `yaml:"pitch_diameter" eg:"B1" say:"of a bolt circle"`
	Distance      *names `yaml:"distance" eg:"[B1/1, B1/4]" say:"between two holes, cylinders or planes"`
	Value         number `yaml:"value" unit:"length" eg:"40.02" say:"what was read"`
	SetScale      truth  `yaml:"set_scale" eg:"false" say:"true: the scan's scale is set by it, else only checked"`
	Sure          stated `yaml:",inline"`
}

// stated are the keys that say how sure a value is, as its source states it: u, or
// half_width with distribution, or expanded with k or confidence.
type stated struct {
	U            number `yaml:"u" unit:"same" eg:"0.004" say:"standard uncertainty"`
	HalfWidth    number `yaml:"half_width" unit:"same" eg:"0.01" say:"the value lies within, by distribution"`
	Expanded     number `yaml:"expanded" unit:"same" eg:"0.02" say:"expanded uncertainty, with k or confidence"`
	Distribution text   `yaml:"distribution" eg:"rectangular" say:"of half_width: rectangular, triangular, arcsine (u-shaped) or normal"`
	K            number `yaml:"k" eg:"2" say:"coverage factor of expanded"`
	Confidence   number `yaml:"confidence" unit:"%" eg:"95" say:"that expanded or a normal half_width holds"`
	DoF          number `yaml:"dof" eg:"9" say:"degrees of freedom: n readings have n - 1"`
}
