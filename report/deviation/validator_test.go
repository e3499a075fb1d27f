//go:build outside

package deviation_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/report/deviation"
)

// The validator of the glTF standard's makers, of the npm registry, finds nothing to say.
func TestGLBByTheValidator(t *testing.T) {
	s, seg := corner(t)
	m, err := deviation.Of(t.Context(), s, seg, deviation.Options{})
	require.NoError(t, err)
	dir := t.TempDir()
	f, err := os.Create(filepath.Join(dir, "m.glb"))
	require.NoError(t, err)
	require.NoError(t, m.WriteGLB(f, s, "test"))
	require.NoError(t, f.Close())
	for _, args := range [][]string{{"npm", "install", "--silent", "gltf-validator@2.0.0-dev.3.10"},
		{"node", "-e", `require("gltf-validator").validateBytes(new Uint8Array(require("fs").readFileSync("m.glb")))
			.then(r => { if (r.issues.messages.length) { console.log(JSON.stringify(r.issues)); process.exit(1) } })`}} {
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
}
