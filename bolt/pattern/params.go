package pattern

// maxCondition is the condition number of the normal equations, in mm and rad, beyond
// which places do not determine a pattern: those of places a thousandth of the pattern
// apart. TestUndetermined.
const maxCondition = 1e12
