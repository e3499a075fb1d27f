package sizes

// A fastener with its holes, mm; zero: the table has none.
type fastener struct {
	name     string
	diameter float64
	second   bool       // ISO 261: not of the first choice (from memory)
	clear    [3]float64 // clearance: fine, medium, coarse; inch: close, normal, loose
	old      [3]float64 // the same of BS 4186:1967, where it differs
	drill    float64    // for tapping
}

// metric has the clearance holes of ISO 273:1979 and, where they differ, of BS 4186:1967
// as reprinted in Machinery's Handbook, 31st ed., p. 2173, which many still use; and the
// drills for tapping coarse threads of ISO 2306:1972. TestTables. Sizes without holes are
// those of ISO 261, first choice (from memory).
var metric = [...]fastener{
	{name: "M1.6", diameter: 1.6, clear: [3]float64{1.7, 1.8, 2}, drill: 1.25},
	{name: "M2", diameter: 2, clear: [3]float64{2.2, 2.4, 2.6}, drill: 1.6},
	{name: "M2.5", diameter: 2.5, clear: [3]float64{2.7, 2.9, 3.1}, drill: 2.05},
	{name: "M3", diameter: 3, clear: [3]float64{3.2, 3.4, 3.6}, drill: 2.5},
	{name: "M3.5", diameter: 3.5, second: true, clear: [3]float64{3.7, 3.9, 4.2}, drill: 2.9},
	{name: "M4", diameter: 4, clear: [3]float64{4.3, 4.5, 4.8}, drill: 3.3},
	{name: "M5", diameter: 5, clear: [3]float64{5.3, 5.5, 5.8}, drill: 4.2},
	{name: "M6", diameter: 6, clear: [3]float64{6.4, 6.6, 7}, drill: 5},
	{name: "M7", diameter: 7, second: true, clear: [3]float64{7.4, 7.6, 8}, drill: 6},
	{name: "M8", diameter: 8, clear: [3]float64{8.4, 9, 10}, drill: 6.8},
	{name: "M10", diameter: 10, clear: [3]float64{10.5, 11, 12}, drill: 8.5},
	{name: "M12", diameter: 12, clear: [3]float64{13, 13.5, 14.5}, old: [3]float64{0, 14, 15}, drill: 10.2},
	{name: "M14", diameter: 14, second: true, clear: [3]float64{15, 15.5, 16.5}, old: [3]float64{0, 16, 17}, drill: 12},
	{name: "M16", diameter: 16, clear: [3]float64{17, 17.5, 18.5}, old: [3]float64{0, 18, 19}, drill: 14},
	{name: "M18", diameter: 18, second: true, clear: [3]float64{19, 20, 21}, drill: 15.5},
	{name: "M20", diameter: 20, clear: [3]float64{21, 22, 24}, drill: 17.5},
	{name: "M22", diameter: 22, second: true, clear: [3]float64{23, 24, 26}, drill: 19.5},
	{name: "M24", diameter: 24, clear: [3]float64{25, 26, 28}, drill: 21},
	{name: "M30", diameter: 30},
	{name: "M36", diameter: 36},
	{name: "M42", diameter: 42},
	{name: "M48", diameter: 48},
	{name: "M56", diameter: 56},
	{name: "M64", diameter: 64},
}

// inch has the clearance holes of ASME B18.2.8-1999, in inches here; the diameter of
// numbered screws is 0.060 + 0.013 n (ASME B1.1, from memory). Larger sizes are the
// first choice of common practice, no source. TestTables.
var inch = [...]fastener{
	{name: "#0", diameter: 0.06, clear: [3]float64{0.067, 0.076, 0.0938}},
	{name: "#1", diameter: 0.073, second: true, clear: [3]float64{0.081, 0.089, 0.104}},
	{name: "#2", diameter: 0.086, clear: [3]float64{0.0938, 0.1015, 0.116}},
	{name: "#3", diameter: 0.099, second: true, clear: [3]float64{0.1065, 0.116, 0.1285}},
	{name: "#4", diameter: 0.112, clear: [3]float64{0.12, 0.1285, 0.144}},
	{name: "#5", diameter: 0.125, second: true, clear: [3]float64{0.1406, 0.1563, 0.1719}},
	{name: "#6", diameter: 0.138, clear: [3]float64{0.154, 0.1695, 0.185}},
	{name: "#8", diameter: 0.164, clear: [3]float64{0.18, 0.196, 0.213}},
	{name: "#10", diameter: 0.19, clear: [3]float64{0.2055, 0.221, 0.238}},
	{name: "1/4 in", diameter: 0.25, clear: [3]float64{0.2656, 0.2813, 0.2969}},
	{name: "5/16 in", diameter: 0.3125, clear: [3]float64{0.3281, 0.3438, 0.3594}},
	{name: "3/8 in", diameter: 0.375, clear: [3]float64{0.3906, 0.4063, 0.4219}},
	{name: "7/16 in", diameter: 0.4375, second: true, clear: [3]float64{0.4531, 0.4688, 0.4844}},
	{name: "1/2 in", diameter: 0.5, clear: [3]float64{0.5313, 0.5625, 0.6094}},
	{name: "5/8 in", diameter: 0.625},
	{name: "3/4 in", diameter: 0.75},
	{name: "7/8 in", diameter: 0.875},
	{name: "1 in", diameter: 1},
	{name: "1 1/4 in", diameter: 1.25},
	{name: "1 1/2 in", diameter: 1.5},
}

// renard is the series R40 of ISO 3:1973 with, for each number, the coarsest of R5, R10,
// R20 and R40 that has it. TestTables.
var renard = [...]struct {
	number float64
	series int
}{
	{1, 5}, {1.06, 40}, {1.12, 20}, {1.18, 40}, {1.25, 10}, {1.32, 40}, {1.4, 20}, {1.5, 40},
	{1.6, 5}, {1.7, 40}, {1.8, 20}, {1.9, 40}, {2, 10}, {2.12, 40}, {2.24, 20}, {2.36, 40},
	{2.5, 5}, {2.65, 40}, {2.8, 20}, {3, 40}, {3.15, 10}, {3.35, 40}, {3.55, 20}, {3.75, 40},
	{4, 5}, {4.25, 40}, {4.5, 20}, {4.75, 40}, {5, 10}, {5.3, 40}, {5.6, 20}, {6, 40},
	{6.3, 5}, {6.7, 40}, {7.1, 20}, {7.5, 40}, {8, 10}, {8.5, 40}, {9, 20}, {9.5, 40},
}
