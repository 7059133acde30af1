package dashboard

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// contract is the OpenAPI document as the tests hold it against the handlers.
type contract struct {
	doc      map[string]any
	compiler *jsonschema.Compiler
	used     map[string]bool // operations whose answer was judged
}

const contractURL = "https://ductward.invalid/openapi.yaml"

func readContract(t *testing.T) *contract {
	t.Helper()
	text, err := yaml.YAMLToJSON(description)
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	c := &contract{doc: doc.(map[string]any), compiler: jsonschema.NewCompiler(), used: map[string]bool{}}
	c.compiler.DefaultDraft(jsonschema.Draft2020) // the dialect of OpenAPI 3.1, less what it adds for documentation
	c.compiler.AssertFormat()
	require.NoError(t, c.compiler.AddResource(contractURL, doc))
	return c
}

// operations lists "METHOD /path" of all that the document describes.
func (c *contract) operations() (out []string) {
	for path, item := range c.doc["paths"].(map[string]any) {
		for method := range item.(map[string]any) {
			out = append(out, strings.ToUpper(method)+" "+path)
		}
	}
	slices.Sort(out)
	return out
}

// schemaAt is the schema of an operation's answer, or of what it is sent; nil where the document has none.
func (c *contract) schemaAt(t *testing.T, operation, where string) *jsonschema.Schema {
	t.Helper()
	method, path, _ := strings.Cut(operation, " ")
	pointer := fmt.Sprintf("/paths/%s/%s/%s", strings.NewReplacer("~", "~0", "/", "~1").Replace(path), strings.ToLower(method), where)
	v := any(c.doc)
	for _, key := range strings.Split(pointer[1:], "/") {
		m, ok := v.(map[string]any)
		if v = m[strings.NewReplacer("~1", "/", "~0", "~").Replace(key)]; !ok || v == nil {
			return nil
		}
	}
	s, err := c.compiler.Compile(contractURL + "#" + url.PathEscape(pointer))
	require.NoError(t, err, pointer)
	return s
}

// judge holds an answer against the schema of its status, and says that the operation was seen.
func (c *contract) judge(t *testing.T, operation string, w *httptest.ResponseRecorder) {
	t.Helper()
	s := c.schemaAt(t, operation, fmt.Sprintf("responses/%d/content/application~1json/schema", w.Code))
	if s == nil {
		require.GreaterOrEqual(t, w.Code, 400, "%s answers %d, of which the document says nothing", operation, w.Code)
		var err error
		s, err = c.compiler.Compile(contractURL + "#/components/schemas/error")
		require.NoError(t, err)
	} else {
		c.used[operation] = true
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(w.Body.Bytes()))
	require.NoError(t, err, w.Body.String())
	assert.NoError(t, s.Validate(v), operation)
}

// TestTheDocumentAndTheRoutesAreOne: what is served as JSON is described, and what is described is served.
func TestTheDocumentAndTheRoutesAreOne(t *testing.T) {
	var served []string
	for _, r := range (&server{}).routes() {
		if strings.Contains(r.pattern, "/api/") {
			served = append(served, r.pattern)
		}
	}
	slices.Sort(served)
	assert.Equal(t, served, readContract(t).operations())
}

// TestTheSchemasAreClosedAndSound: each is a schema of the dialect that OpenAPI 3.1 takes, is used, and lets nothing through
// that it does not name.
func TestTheSchemasAreClosedAndSound(t *testing.T) {
	c := readContract(t)
	all := c.doc["components"].(map[string]any)["schemas"].(map[string]any)
	for name, v := range all {
		_, err := c.compiler.Compile(contractURL + "#/components/schemas/" + name)
		assert.NoError(t, err, name)
		assert.Contains(t, string(description), `"#/components/schemas/`+name+`"`, "nothing refers to it")
		if s := v.(map[string]any); s["type"] == "object" {
			assert.Equal(t, false, s["additionalProperties"], name)
			for _, key := range s["required"].([]any) {
				assert.Contains(t, s["properties"], key, name)
			}
		}
	}
	kinds, err := c.compiler.Compile(contractURL + "#/components/schemas/entryKind")
	require.NoError(t, err)
	for _, k := range append(slices.Clone(journal.Kinds), journal.Alarm, journal.Gap, journal.ZeroMoved) {
		assert.NoError(t, kinds.Validate(string(k)))
	}
	ids := map[string]bool{}
	for _, operation := range c.operations() {
		method, path, _ := strings.Cut(operation, " ")
		id := at(c.doc, "paths", path, strings.ToLower(method), "operationId").(string)
		assert.False(t, ids[id], id)
		ids[id] = true
	}
}

// richFake is a shop that has something of everything that the JSON tells.
func richFake(t *testing.T) (*fake, http.Handler) {
	t.Helper()
	f := newFake()
	f.shop.Path, f.shop.Raw = "shop.yaml", []byte("shop: {name: x}\n")
	f.shop.Checks = []shop.Check{{Name: "hoods", Days: 7, AskedBy: "the owner"}, {Name: "thorough examination", Months: 14, AskedBy: "the law"}}
	f.shop.Collectors[0].Gates[1].Position = &shop.Source{Kind: shop.SourceByHand}
	f.entries = append(f.entries, journal.Entry{Time: testNow.AddDate(0, 0, -4), Kind: journal.Sealed, Subject: "trunk 5", By: "Ann"}, journal.Entry{Time: testNow, Kind: journal.Alarm, Alarm: f.alarms[0].ID, Event: "raised"},
		journal.Entry{Time: testNow, Kind: journal.Check, Subject: "hoods", Result: journal.NotInOrder, Action: "mend", By: "Ann", Corrects: 1})
	cfg := f.config()
	cfg.Positions = &hand{set: map[string]float64{}}
	cfg.Delivery = &post{status: []outbox.Status{{Target: "mail", Last: testNow}, {Target: "syslog", Failures: 3, Problem: "refused",
		Dead: []outbox.Item{{Letter: outbox.Letter{Subject: "Elm Lane: plan"}, Ended: testNow, Last: "refused"}}}}}
	h, err := New(cfg)
	require.NoError(t, err)
	return f, h
}

// questions are a way to ask for each thing that is read.
func questions() map[string]string {
	const chart = "/api/v1/chart?channel=main%2Ftrunk&from=2026-11-25T08:00:00Z&to=2026-11-25T14:00:00Z"
	out := map[string]string{"GET /api/v1/chart": chart + "&n=7", "GET /api/v1/airflow": "/api/v1/airflow?collector=main&open=tenoner&open=edge+sander"}
	for _, name := range []string{"state", "findings", "repairs", "cleanings", "forecasts", "alarms", "alarm-budget", "hunt", "journal", "checks", "positions", "targets", "shop"} {
		out["GET /api/v1/"+name] = "/api/v1/" + name
	}
	return out
}

// TestEveryAnswerIsAsTheDocumentSays, in every scene and to every question, those that are refused too.
func TestEveryAnswerIsAsTheDocumentSays(t *testing.T) {
	c := readContract(t)
	handlers := map[string]http.Handler{}
	for name, f := range scenes() {
		handlers[name] = f.handler(t)
	}
	handlers["hunting"] = huntingFake(true, 0, "tenoner", "edge sander").handler(t)
	handlers["demo's shop"] = fromFile(t, "../hardware/rig/shop.yaml", "tenoner", "edge sander").handler(t)
	_, handlers["rich"] = richFake(t)
	broken := newFake()
	broken.fail = assert.AnError
	handlers["broken"] = broken.handler(t)
	for name, h := range handlers {
		for operation, path := range questions() {
			t.Run(name+" "+operation, func(t *testing.T) { c.judge(t, operation, get(t, h, path)) })
		}
	}
	for _, bad := range []string{"/api/v1/chart", "/api/v1/chart?channel=main%2Ftrunk&from=x&to=y", "/api/v1/nowhere"} {
		c.judge(t, "GET /api/v1/chart", get(t, handlers["rich"], bad))
	}
	f, h := richFake(t)
	for _, x := range changes(f) {
		s := c.schemaAt(t, x.operation, "requestBody/content/application~1json/schema")
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(x.body))
		require.NoError(t, err)
		require.NoError(t, s.Validate(v), "%s %s", x.operation, x.body)
		w := send(h, x.path, asJSON, x.body)
		require.Less(t, w.Code, 300, "%s: %s", x.path, w.Body.String())
		c.judge(t, x.operation, w)
		c.judge(t, x.operation, send(h, x.path, asJSON, `{"nobody":1}`))
		c.judge(t, x.operation, send(h, x.path, asJSON, x.body, "Sec-Fetch-Site", "cross-site"))
	}
	_, asked, _ := gatedFake(t, true, nil)
	c.judge(t, "POST /api/v1/journal", send(asked, "/api/v1/journal", asJSON, `{"kind":"check","by":"Ann"}`))

	all := slices.DeleteFunc(c.operations(), func(o string) bool { return o == "GET /api/v1/openapi.yaml" })
	assert.Equal(t, all, slices.Sorted(maps.Keys(c.used)), "each was answered at least once")
}

// change is one thing that is changed, as a program asks for it.
type change struct{ operation, path, body string }

func changes(f *fake) []change {
	id := url.PathEscape(f.alarms[0].ID)
	aside := func(do, body string) change {
		return change{"POST /api/v1/alarms/{id}/" + do, "/api/v1/alarms/" + id + "/" + do, body}
	}
	plain := func(name, body string) change {
		return change{"POST /api/v1/" + name, "/api/v1/" + name, body}
	}
	return []change{
		aside("acknowledge", `{"by":"Ann"}`),
		aside("shelve", `{"by":"Ann","reason":"parts are ordered","hours":2,"once":true}`), aside("unshelve", `{"by":"Ann"}`),
		aside("out", `{"by":"Ann","reason":"away for repair"}`), aside("back", `{"by":"Ann"}`),
		aside("confirm", `{"by":"Ann","found":"a hole","action":"sealed it"}`),
		plain("journal", `{"kind":"check","by":"Ann","result":"ok","note":"hoods","time":"2026-11-25T08:00:00Z","subject":"main"}`),
		plain("positions", `{"channel":"gate/thicknesser gate","value":1}`), plain("positions", `{"channel":"gate/thicknesser gate","value":null}`),
		plain("hunt", `{"collector":"main","do":"end","by":"Ann"}`), plain("baseline", `{"action":"take","by":"Ann","note":"new hoods"}`),
		plain("test-letter", `{"by":"Ann"}`),
	}
}

// TestTheDocumentIsServed as it is embedded.
func TestTheDocumentIsServed(t *testing.T) {
	w := get(t, newFake().handler(t), "/api/v1/openapi.yaml")
	assert.Equal(t, "application/yaml; charset=utf-8", w.Header().Get("Content-Type"))
	var v struct {
		OpenAPI string `json:"openapi"`
	}
	text, err := yaml.YAMLToJSON(w.Body.Bytes())
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &v))
	assert.Equal(t, "3.1.0", v.OpenAPI)
}
