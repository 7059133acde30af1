package shop

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestFilesOfOtherEditors: a byte-order mark and carriage returns, as some editors write them, change nothing but Raw.
func TestFilesOfOtherEditors(t *testing.T) {
	data, err := os.ReadFile(demoShop)
	require.NoError(t, err)
	want, problems := Parse("shop.yaml", data)
	require.Empty(t, problems)
	crlf := bytes.ReplaceAll(data, []byte("\n"), []byte("\r\n"))
	for name, text := range map[string][]byte{"carriage returns": crlf, "byte-order mark": append([]byte("\ufeff"), data...), "both": append([]byte("\ufeff"), crlf...)} {
		got, problems := Parse("shop.yaml", text)
		require.Empty(t, problems, name+"\n"+messages(problems))
		require.Equal(t, text, got.Raw)
		require.Equal(t, fmt.Sprintf("%+v", *want.Collectors[0].Run("trunk 10")), fmt.Sprintf("%+v", *got.Collectors[0].Run("trunk 10")), name)
		require.Equal(t, want.Collectors[0].Gates, got.Collectors[0].Gates, name)
	}
}

func TestLocalTimeIsNoZone(t *testing.T) {
	_, err := location("Local")
	require.ErrorContains(t, err, "depends on the machine")
	l, err := location("America/Chicago")
	require.NoError(t, err)
	require.Equal(t, "America/Chicago", l.String())
}

// TestLinesAreCountedPastLongText: text over several lines in any of YAML's ways does not shift the lines behind it.
func TestLinesAreCountedPastLongText(t *testing.T) {
	for name, text := range map[string]string{
		"plain":         "of\n    many\n\n    lines",
		"single quotes": "'of\n    many\n\n    lines'",
		"double quotes": "\"of\n    many\n\n    lines\"",
		"literal":       "|\n    of\n    many\n    lines",
		"folded":        ">\n    of\n    many\n    lines",
		"comments":      "# here\n    # and\n    # here\n    of",
	} {
		head := "shop: Long Text\nsite:\n  note: " + text + "\n"
		_, problems := Parse("shop.yaml", []byte(head+"wrong: x\ncollectors: [{collector: main, sensors: []}]\n"))
		require.Len(t, problems, 2, name+"\n"+messages(problems))
		require.Equal(t, 3, problems[0].Line, name)
		require.Equal(t, strings.Count(head, "\n")+1, problems[1].Line, name)
	}
}
