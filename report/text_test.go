package report

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTextTry(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, kettlePort().report(t)))
	t.Log("\n" + b.String())
	b.Reset()
	require.NoError(t, WriteJSON(&b, kettlePort().report(t)))
	t.Log("\n" + b.String()[:3000])
}
