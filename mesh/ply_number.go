package mesh

import (
	"encoding/binary"
	"math"
)

// number decodes a binary number of type t at the start of b.
func (t plyType) number(b []byte, big bool) float64 {
	switch t {
	case plyInt8:
		return float64(int8(b[0]))
	case plyUint8:
		return float64(b[0])
	case plyFloat32:
		return float64(math.Float32frombits(word32(b, big)))
	case plyFloat64:
		return math.Float64frombits(word64(b, big))
	}
	return float64(t.integer(b, big))
}

// integer decodes a binary integer of type t at the start of b.
func (t plyType) integer(b []byte, big bool) int64 {
	switch t {
	case plyInt8:
		return int64(int8(b[0]))
	case plyUint8:
		return int64(b[0])
	case plyInt16:
		return int64(int16(word16(b, big)))
	case plyUint16:
		return int64(word16(b, big))
	case plyInt32:
		return int64(int32(word32(b, big)))
	case plyUint32:
		return int64(word32(b, big))
	}
	return int64(word64(b, big))
}

func word64(b []byte, big bool) uint64 {
	if big {
		return binary.BigEndian.Uint64(b)
	}
	return binary.LittleEndian.Uint64(b)
}

func word16(b []byte, big bool) uint16 {
	if big {
		return binary.BigEndian.Uint16(b)
	}
	return binary.LittleEndian.Uint16(b)
}

func word32(b []byte, big bool) uint32 {
	if big {
		return binary.BigEndian.Uint32(b)
	}
	return binary.LittleEndian.Uint32(b)
}
