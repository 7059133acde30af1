package main

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

const twoBays = "../../testdata/shops/two-collectors.yaml"

// texts are the words of a picture, in the order in which they stand in its file.
func texts(t *testing.T, svg string) []string {
	t.Helper()
	var out []string
	d := xml.NewDecoder(strings.NewReader(svg))
	inText := false
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		switch x := token.(type) {
		case xml.StartElement:
			inText = x.Name.Local == "text"
		case xml.CharData:
			if inText {
				out = append(out, string(x))
			}
		case xml.EndElement:
			inText = false
		}
	}
}

func TestDrawWritesAPictureOfTheModelsAnswer(t *testing.T) {
	r := call(t, "draw", elmLane, "--open", "panel saw")
	require.Equal(t, exitFine, r.code, r.errOut)
	require.Empty(t, r.errOut)
	words := texts(t, r.out)
	assert.Contains(t, words, "Open: panel saw")
	told := call(t, "airflow", elmLane, "--open", "panel saw")
	require.Equal(t, exitFine, told.code)
	for _, name := range []string{"panel saw", "planer"} {
		assert.Contains(t, words, name)
		assert.Contains(t, told.out, name)
	}
	for _, bad := range []string{"<script", "href"} {
		assert.NotContains(t, r.out, bad)
	}
}

func TestDrawWritesToAFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "ducts.svg")
	r := call(t, "draw", elmLane, "--open", "panel saw", "--out", file)
	require.Equal(t, exitFine, r.code, r.errOut)
	assert.Empty(t, r.out)
	written, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, call(t, "draw", elmLane, "--open", "panel saw").out, string(written))
}

func TestDrawShowsLeaksAndALoadedFilter(t *testing.T) {
	plain := call(t, "draw", twoBays, "--open", "planer").out
	r := call(t, "draw", twoBays, "--open", "planer", "--leak", "run:trunk 2=30m3/h@1500Pa", "--filter-resistance", "2")
	require.Equal(t, exitFine, r.code, r.errOut)
	words := strings.Join(texts(t, r.out), "\n")
	assert.Regexp(t, `(?m)^leak \d+\x{a0}m³/h$`, words)
	assert.Contains(t, words, "Filter resistance: 2 of the clean filter's")
	assert.NotContains(t, strings.Join(texts(t, plain), "\n"), "leak ")
}

func TestDrawChoosesTheCollector(t *testing.T) {
	r := call(t, "draw", twoBays, "--open", "planer", "--collector", "mill")
	require.Equal(t, exitFine, r.code, r.errOut)
	assert.Contains(t, strings.Join(texts(t, r.out), " "), "Two Bays Millwork, collector mill")

	r = call(t, "draw", twoBays, "--collector", "sander")
	assert.Equal(t, exitUse, r.code)
	assert.Contains(t, r.errOut, `--collector "sander": there is no such collector with a drawing; there is "mill"`)
}

func TestDrawAsksWhereSeveralHaveADrawing(t *testing.T) {
	s := &shop.Shop{Collectors: []*shop.Collector{{Name: "north", Network: &shop.Network{}}, {Name: "bare"}, {Name: "south", Network: &shop.Network{}}}}
	_, err := collectorToDraw(s, "")
	require.EqualError(t, err, `several collectors have a drawing: choose one with --collector, of "north", "south"`)
	c, err := collectorToDraw(s, "south")
	require.NoError(t, err)
	assert.Equal(t, "south", c.Name)
}

func TestDrawRefusesWhatIsNotThere(t *testing.T) {
	r := call(t, "draw", elmLane, "--open", "lathe")
	assert.Equal(t, exitUse, r.code)
	assert.Contains(t, r.errOut, `no gate or machine "lathe"`)

	r = call(t, "draw", elmLane, "--out", filepath.Join(t.TempDir(), "no", "such", "ducts.svg"))
	assert.Equal(t, exitFailed, r.code)

	bare := strings.Split(string(mustRead(t, elmLane)), "    ducts:")[0]
	r = call(t, "draw", write(t, "bare.yaml", bare))
	assert.NotEqual(t, exitFine, r.code)
}

func mustRead(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}
