package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	made "github.com/invopop/jsonschema"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

var update = flag.Bool("update", false, "rewrite the schemas")

const root = "../.."

// reportSchema is made from the types of the report, and their comments.
func reportSchema(t *testing.T) *made.Schema {
	var r made.Reflector
	t.Chdir(root) // comments are found by the path of their package
	for _, dir := range []string{"report", "bolt", "bolt/sizes"} {
		if err := r.AddGoComments("spotface", dir); err != nil {
			t.Fatal(err)
		}
	}
	s := r.Reflect(&report.Report{})
	s.ID, s.Title = "", "What spotface reports of a scan ("+report.Schema+")"
	return s
}

// planSchema is made from the keys of a plan, which come from its types.
func planSchema() *made.Schema {
	group := func() *made.Schema {
		return &made.Schema{Type: "object", Properties: made.NewProperties(), AdditionalProperties: made.FalseSchema}
	}
	top := group()
	top.Version, top.Title = made.Version, "A plan of spotface"
	at := map[string]*made.Schema{"": top}
	list := func(item *made.Schema) *made.Schema { return &made.Schema{Type: "array", Items: item} }
	number, text := &made.Schema{Type: "number"}, &made.Schema{Type: "string"}
	for _, k := range plan.Keys() {
		var s *made.Schema
		switch path := k.Path + "."; k.Kind {
		case plan.Group:
			s = group()
			at[path] = s
		case plan.Groups:
			item := group()
			s, at[k.Path+"[]."] = list(item), item
		case plan.Text:
			s = &made.Schema{AnyOf: []*made.Schema{text, number}} // a name may look like a number
		case plan.Flag:
			s = &made.Schema{Type: "boolean"}
		case plan.Numbers:
			s = list(number)
		case plan.Names:
			s = &made.Schema{AnyOf: []*made.Schema{text, list(text)}}
		case plan.Band:
			s = &made.Schema{AnyOf: []*made.Schema{text, list(number)}}
		case plan.Estimate:
			s = &made.Schema{AnyOf: []*made.Schema{number, {Type: "object"}}}
		default:
			s = &made.Schema{Type: "number"}
			if k.Unit == "length" {
				s = &made.Schema{AnyOf: []*made.Schema{number, text}} // 2 63/64
			}
		}
		s.Description = k.Says
		if k.Example != "" {
			s.Examples = []any{k.Example}
		}
		at[k.Path[:strings.LastIndexByte(k.Path, '.')+1]].Properties.Set(k.Name(), s)
	}
	return top
}

// compiled is a schema as it is in the repository, which is what the types say.
func compiled(t *testing.T, name string, s *made.Schema) *jsonschema.Schema {
	t.Helper()
	want, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, '\n')
	path := filepath.Join("testdata", "schema", name)
	if *update {
		if err := os.WriteFile(path, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil || !reflect.DeepEqual(bare(t, got), bare(t, want)) {
		t.Fatalf("%s is not what the types say (%v): go test -update in testdata/importer", path, err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(got))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(name, doc); err != nil {
		t.Fatal(err)
	}
	out, err := c.Compile(name)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// bare is a schema without its descriptions, which are comments of the code.
func bare(t *testing.T, schema []byte) any {
	t.Helper()
	var doc any
	if err := json.Unmarshal(schema, &doc); err != nil {
		t.Fatal(err)
	}
	var strip func(any)
	strip = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			if _, text := v["description"].(string); text {
				delete(v, "description")
			}
			for _, w := range v {
				strip(w)
			}
		case []any:
			for _, w := range v {
				strip(w)
			}
		}
	}
	strip(doc)
	return doc
}

// valid checks a document and that the schema refuses a name that it does not have.
func valid(t *testing.T, s *jsonschema.Schema, name string, data []byte) {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatal(name, err)
	}
	if err := s.Validate(doc); err != nil {
		t.Errorf("%s: %v", name, err)
	}
	doc.(map[string]any)["no_such_name"] = 1
	if s.Validate(doc) == nil {
		t.Errorf("%s: a name that is none passes", name)
	}
}

// What the library writes is what the schema says: a measured scan, judged, and the reports that
// its own tests compare with.
func TestReportSchema(t *testing.T) {
	s := compiled(t, "report.json", reportSchema(t))
	ctx := context.Background()
	file, err := scanFile(ctx)
	if err != nil {
		t.Fatal(err)
	}
	scan, err := scanio.ReadFrom(ctx, bytes.NewReader(file), int64(len(file)), "port.stl", scanio.Options{Checksum: true})
	if err != nil {
		t.Fatal(err)
	}
	rep, err := report.Measure(ctx, scan, report.MeasureOptions{})
	if err != nil {
		t.Fatal(err)
	}
	rep.Record = &report.Record{Tool: "importer"}
	p, err := plan.Read("cmd/spotface/demo.yaml")
	if err != nil {
		t.Fatal(err)
	}
	j, err := check.Check(p, rep)
	if err != nil {
		t.Fatal(err)
	}
	printed, _, err := check.NextPrint(p, rep)
	if err != nil {
		t.Fatal(err)
	}
	judged := rep.Judged(j).Since(rep.Judged(j))
	judged.Printed = printed
	var b bytes.Buffer
	if err := report.WriteJSON(&b, judged); err != nil {
		t.Fatal(err)
	}
	valid(t, s, "a judged scan", b.Bytes())
	golden, err := filepath.Glob("report/testdata/golden/*.json")
	if err != nil || len(golden) < 2 {
		t.Fatal(golden, err)
	}
	for _, path := range golden {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		valid(t, s, path, data)
	}
}

// Plans that the library takes, and drafts, are what the schema says.
func TestPlanSchema(t *testing.T) {
	t.Chdir(root)
	s := compiled(t, "plan.json", planSchema())
	for _, path := range []string{"cmd/spotface/demo.yaml", "report/plan/testdata/golden/draft.yaml"} {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if data, err = yaml.YAMLToJSON(data); err != nil {
			t.Fatal(path, err)
		}
		valid(t, s, path, data)
	}
}
