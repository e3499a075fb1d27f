// Package report holds the plan (nominal sizes and tolerance bands), judges a
// measured scan against it and renders the result as text and JSON.
package report
