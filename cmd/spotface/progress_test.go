package main

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestProgressKeepsToOneLine(t *testing.T) {
	var b bytes.Buffer
	p := &progress{w: &b}
	reading := p.at("reading")
	reading(0, 1000)
	reading(1, 1000) // the same percent is not printed again
	reading(500, 1000)
	p.stages("port.stl")("holes", 0, 0) // an unknown total does no harm
	p.clear()
	p.clear()
	const home = "\r\x1b[K"
	assert.Equal(t, home+"reading 0 %"+home+"reading 50 %"+home+"port.stl: holes 0 %"+home, b.String())
}

func TestProgressIsForTerminals(t *testing.T) {
	var b bytes.Buffer
	p := newProgress(&b, false)
	assert.Nil(t, p.at("reading"), "libraries skip a nil function")
	assert.Nil(t, p.stages("port.stl"))
	p.clear()
	assert.Empty(t, b.String())
}
