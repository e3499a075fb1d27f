package scanio

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// readBytes reads a file held in memory, by chunks of the given size.
func readBytes(tb testing.TB, file []byte, name string, chunk int64, opt Options) (*mesh.Scan, error) {
	in := newInput(bytes.NewReader(file), int64(len(file)), name)
	in.chunk = chunk
	return in.read(tb.Context(), opt)
}

// Wherever a text file is cut into chunks, and on any number of cores, the
// same comes out, errors included.
func TestTextDoesNotDependOnChunks(t *testing.T) {
	files, err := filepath.Glob(corpus + "/*")
	require.NoError(t, err)
	var texts [][2]string
	for _, f := range files {
		b, err := os.ReadFile(f)
		require.NoError(t, err)
		if isText(b) {
			texts = append(texts, [2]string{filepath.Base(f), string(b)})
		}
	}
	require.Greater(t, len(texts), 20)
	s := waves(20, true, true)
	for _, w := range []struct {
		name string
		text []byte
	}{
		{"w.xyz", written(t, s, fixedXYZ(true))}, {"w.obj", written(t, s, objText)},
		{"w.ply", written(t, s, textPLY)}, {"w.stl", written(t, s, textSTL)},
	} {
		texts = append(texts, [2]string{w.name, string(w.text)},
			[2]string{"crlf " + w.name, strings.ReplaceAll(string(w.text), "\n", "\r\n")},
			[2]string{"cr " + w.name, strings.ReplaceAll(string(w.text), "\n", "\r")},
			[2]string{"blank " + w.name, strings.ReplaceAll(string(w.text), "1\n", "1\n \t\n\n")},
			[2]string{"wrong " + w.name, strings.Replace(string(w.text), ".1", ".x", 7)},
			[2]string{"cut " + w.name, string(w.text[:len(w.text)*2/3])})
	}
	for _, f := range texts {
		want, wantErr := readBytes(t, []byte(f[1]), f[0], blockSize, Options{Jobs: 1})
		for _, chunk := range []int64{1, 2, 3, 7, 16, 64, 100, 1000, 4096} {
			if chunk < 16 && len(f[1]) > 3000 {
				continue
			}
			for _, jobs := range []int{1, 3} {
				got, err := readBytes(t, []byte(f[1]), f[0], chunk, Options{Jobs: jobs})
				if wantErr != nil {
					require.EqualError(t, err, wantErr.Error(), "%s in chunks of %d", f[0], chunk)
					continue
				}
				require.NoError(t, err, "%s in chunks of %d", f[0], chunk)
				require.Equal(t, want, got, "%s in chunks of %d", f[0], chunk)
			}
		}
	}
}

func TestLineEndsDoNotMatter(t *testing.T) {
	s := waves(8, true, false)
	for name, text := range map[string][]byte{
		"w.xyz": written(t, s, fixedXYZ(true)), "w.obj": written(t, s, objText),
		"w.ply": written(t, s, textPLY), "w.stl": written(t, s, textSTL),
	} {
		want, err := readBytes(t, text, name, blockSize, Options{})
		require.NoError(t, err)
		for _, end := range []string{"\r\n", "\r", " \t\n"} {
			got, err := readBytes(t, bytes.ReplaceAll(text, []byte("\n"), []byte(end)), name, blockSize, Options{})
			require.NoError(t, err, "%s with %q", name, end)
			assert.Equal(t, want, got, "%s with %q", name, end)
		}
		got, err := readBytes(t, append([]byte("\xef\xbb\xbf"), text...), name, blockSize, Options{})
		if name == "w.ply" {
			continue // a PLY begins with "ply"
		}
		require.NoError(t, err, name)
		assert.Equal(t, want, got, name)
	}
}
