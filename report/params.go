package report

const (
	// sameDrill is the largest difference of holes of one drill, as a share of their size: a
	// tolerance of grade 11 is 90 um at 6.6 mm. Common practice, no source.
	// TestEqualHolesAreNamedTogether.
	sameDrill = 0.01

	// nearFace is how near, mm, a chamfer ends to the face and to the cylinder whose edge it
	// breaks, if it is shorter than twice that: scanners round edges. TestChamferOfAScan.
	nearFace = 1.0

	// sameWork is how far, mm, depths and counterbores that are listed as one differ at
	// most: floors are not finished. Common practice, no source. TestHowHolesAreMade.
	sameWork = 0.2

	// headOverDiameter is how wide the head of a screw is in diameters: 1.5 of a socket
	// head (ISO 4762, from memory), 1.5 to 1.8 of a hexagon. TestBoltUp.
	headOverDiameter = 1.5

	// headMore is what socket heads up to M10 are wider than that, mm, and headDeeper how
	// far below the surface a sunk head lies, mm. ISO 4762, from memory. TestAdapter.
	headMore   = 1.0
	headDeeper = 0.5

	// sameThread is how far, as a share, a measured major diameter may be from a
	// fastener's, and sameFastener, mm, a diameter that is given. TestAdapter.
	sameThread   = 0.05
	sameFastener = 0.01

	// mostOpened is how much larger one hole is opened at most, as a factor, before all
	// that lack clearance are named instead; leastOpened, mm, is what makes no
	// difference. TestBoltUp.
	mostOpened  = 1.5
	leastOpened = 0.001
)
