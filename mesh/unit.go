package mesh

import "fmt"

// Unit is a unit of length, named as on the command line: "mm", "cm", "m",
// "in", "ft".
type Unit string

// The units that a scan may be in.
const (
	Millimetre Unit = "mm"
	Centimetre Unit = "cm"
	Metre      Unit = "m"
	Inch       Unit = "in"
	Foot       Unit = "ft"
)

// Millimetres returns the length of one u in millimetres. The inch is 25.4 mm
// exactly (international yard and pound agreement, 1959).
func (u Unit) Millimetres() (float64, error) {
	switch u {
	case Millimetre:
		return 1, nil
	case Centimetre:
		return 10, nil
	case Metre:
		return 1000, nil
	case Inch:
		return 25.4, nil
	case Foot:
		return 304.8, nil
	}
	return 0, fmt.Errorf("unit %q is not known: use mm, cm, m, in or ft", string(u))
}
