package scanio

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// checkRead reads file by name and checks that it comes out whole or with a
// FormatError of one line, and that no more memory is taken than the file
// warrants: all allocations together, freed or not, are at most 3 times a
// binary file or 8 times a text file, and a fixed sum for buffers.
func checkRead(t testing.TB, file []byte, name string) {
	t.Helper()
	const fixed = 400<<10 + pooled
	// Once the points that were read are free again, windings are compared: a
	// mesh of triangles that share no corner takes most for it.
	const orienting = 100
	var s *mesh.Scan
	var err error
	for try := 1; ; try++ {
		var before, after runtime.MemStats
		in := newInput(bytes.NewReader(file), int64(len(file)), name)
		runtime.ReadMemStats(&before)
		s, err = in.read(t.Context(), Options{Jobs: 1})
		runtime.ReadMemStats(&after)
		times := uint64(3)
		if in.ascii {
			times = 8
		}
		taken := after.TotalAlloc - before.TotalAlloc
		limit := times*uint64(len(file)) + fixed
		if s != nil {
			limit += orienting * uint64(s.Source.Triangles)
		}
		if taken <= limit {
			break
		}
		// The count is of the whole process: try again, others may be at work.
		require.Less(t, try, 3, "%d bytes taken for a file of %d: %v", taken, len(file), err)
	}
	if err != nil {
		var bad *FormatError
		require.True(t, errors.As(err, &bad), "%T %v", err, err)
		require.NotContains(t, err.Error(), "\n")
		require.LessOrEqual(t, bad.Offset, int64(len(file)))
		return
	}
	checkScan(t, s)
}

// seed adds the files of the corpus of one kind.
func seed(f *testing.F, ext string) {
	files, err := filepath.Glob(corpus + "/*")
	require.NoError(f, err)
	for _, name := range files {
		b, err := os.ReadFile(name)
		require.NoError(f, err)
		if strings.EqualFold(filepath.Ext(name), ext) && len(b) < 8000 {
			f.Add(b)
		}
	}
}

func FuzzSTL(f *testing.F) {
	seed(f, ".stl")
	f.Add(written(f, waves(3, true, false), WriteSTL))
	f.Fuzz(func(t *testing.T, file []byte) { checkRead(t, file, "fuzz.stl") })
}

func FuzzPLY(f *testing.F) {
	seed(f, ".ply")
	s := waves(3, true, false)
	f.Add(written(f, s, writePLY))
	f.Add(written(f, s, textPLY))
	f.Add([]byte("ply\nformat binary_big_endian 1.0\nelement vertex 3\nproperty short x\nproperty list char int q\n" +
		"property uchar y\nproperty double z\nelement face 1\nproperty list int int vertex_indices\nend_header\n" +
		"0123456701234567012345670123456701234567"))
	f.Fuzz(func(t *testing.T, file []byte) { checkRead(t, file, "fuzz.ply") })
}

func FuzzOBJ(f *testing.F) {
	seed(f, ".obj")
	f.Add(written(f, waves(3, true, false), objText))
	f.Add([]byte("v 1 2 3\nv 4 \\\n 5 6\nv 7 8 9\nvn 0 0 1\nf 1//1 \\\n -2//-1 3//1\n"))
	f.Fuzz(func(t *testing.T, file []byte) { checkRead(t, file, "fuzz.obj") })
}

func FuzzText(f *testing.F) {
	f.Add(written(f, waves(3, false, false), xyzText))
	f.Add([]byte("# unit: in\n1 2 3\n4 5 6\n"))
	f.Add([]byte("x;y;z\r\n1,5;2,5;3,5\r\n"))
	f.Add([]byte("name,ny,x,\"y\",z [mm],nx,nz\nP1,0,1,2,3,0,1\nP2,0,4,,6,1,0\n"))
	f.Add([]byte("2\n1\t2\t3\t255\n4\t5\t6\t255\n"))
	f.Add([]byte("1 2 3 0 0 1\n// \n4 5 6 nan nan nan\n"))
	f.Fuzz(func(t *testing.T, file []byte) { checkRead(t, file, "fuzz.xyz") })
}

// Fuzz3MF packs what it is given as the model part of a package, and also takes
// it for a package.
func Fuzz3MF(f *testing.F) {
	object := `<object id="1">` + mf3Mesh + `</object>`
	for _, model := range []string{
		`<model unit="inch"><resources>` + object + `</resources><build><item objectid="1" transform="1 0 0 0 1 0 0 0 1 5 6 7"/></build></model>`,
		`<model>` + object + `<object id="2"><component objectid="1"/><component objectid="2"/></object><item objectid="2"/></model>`,
	} {
		f.Add([]byte(model))
	}
	f.Add(model3MF(f, "", object, `<item objectid="1"/>`))
	f.Fuzz(func(t *testing.T, file []byte) {
		checkRead(t, file, "fuzz.3mf")
		checkRead(t, pack(t, "3D/3dmodel.model", string(file)), "fuzz.3mf")
	})
}
