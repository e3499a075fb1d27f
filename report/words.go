package report

import (
	"fmt"
	"strings"

	"spotface/report/wording"
)

// decimals are those of a length, mm, or of an angle with the expanded uncertainty u.
func decimals(u float64) int { return millimetre.decimals(u) }

func fixed(v float64, d int) string { return wording.Fixed(v, d) }

func signed(v float64, d int) string { return wording.Signed(v, d) }

func plusMinus(u float64, d int) string { return wording.PlusMinus(u, d) }

func atLeast(v float64, d int) string { return wording.AtLeast(v, d) }

func limitText(v float64, d int) string { return wording.Limit(v, d) }

func things(n int, one string) string { return wording.Things(n, one) }

func word(n int) string { return wording.Word(n) }

func capital(s string) string { return wording.Capital(s) }

// plural picks the words for one or for n things; many may have a place for n.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	if strings.Contains(many, "%d") {
		return fmt.Sprintf(many, n)
	}
	return many
}

// turnWord says which way a turn goes, looking at the face.
func turnWord(deg float64) string {
	if deg < 0 {
		return "clockwise"
	}
	return "counter-clockwise"
}

func digits(v float64) string { return wording.Digits(v) }
