package report

import (
	"encoding/json"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The schema in the repository has the names of the types, no more and no fewer. It is made by
// testdata/importer, whose tests hold it against real output: go test -update there.
func TestSchemaHasTheNames(t *testing.T) {
	data, err := os.ReadFile("../testdata/schema/report.json")
	require.NoError(t, err)
	var schema struct {
		Defs map[string]struct{ Properties map[string]any } `json:"$defs"`
	}
	require.NoError(t, json.Unmarshal(data, &schema))
	seen := make(map[reflect.Type]bool)
	var walk func(reflect.Type)
	walk = func(of reflect.Type) {
		switch of.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
			walk(of.Elem())
		case reflect.Struct:
			if seen[of] {
				return
			}
			seen[of] = true
			var names, has []string
			for _, f := range reflect.VisibleFields(of) {
				name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
				names = append(names, name)
				walk(f.Type)
			}
			for name := range schema.Defs[of.Name()].Properties {
				has = append(has, name)
			}
			slices.Sort(names)
			slices.Sort(has)
			assert.Equal(t, names, has, of.Name())
		}
	}
	walk(reflect.TypeFor[Report]())
	assert.Len(t, schema.Defs, len(seen)+1, "and Vec")
}
