package reading

import (
	"bufio"
	"fmt"
	"io"
	"iter"
	"math"
	"strconv"
	"strings"
	"time"
)

// WriteCSV writes readings as the CSV that ReadCSV reads, all columns, so that reading it again loses nothing. Values
// are SI, and unit names the SI unit of a channel, "" for a switch. An error of rs ends the file.
func WriteCSV(w io.Writer, rs iter.Seq2[Reading, error], unit func(channel string) string) error {
	out := bufio.NewWriterSize(w, 64<<10)
	line := []byte(strings.Join(columnNames[:], ",") + "\r\n")
	if _, err := out.Write(line); err != nil {
		return fmt.Errorf("write readings: %w", err)
	}
	for r, err := range rs {
		if err == nil {
			line = appendRow(line[:0], &r, unit(r.Channel))
			_, err = out.Write(line)
		}
		if err != nil {
			_ = out.Flush() // the first error says what is wrong
			return fmt.Errorf("write readings: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write readings: %w", err)
	}
	return nil
}

func appendRow(b []byte, r *Reading, unit string) []byte {
	if !r.Time.IsZero() {
		b = r.Time.UTC().AppendFormat(b, time.RFC3339Nano)
	}
	b = appendText(append(b, ','), r.Channel)
	b = appendNumber(append(b, ','), r.Value)
	b = appendText(append(b, ','), unit)
	b = appendSeconds(append(b, ','), r.Span)
	b = appendNumber(append(b, ','), r.SD)
	b = append(b, ',')
	if r.N != 0 {
		b = strconv.AppendInt(b, int64(r.N), 10)
	}
	b = appendText(append(b, ','), r.Quality.String())
	if r.Boot != 0 {
		b = strconv.AppendUint(append(b, ','), uint64(r.Boot), 10)
		b = appendSeconds(append(b, ','), r.Mono)
	} else {
		b = append(b, ',', ',')
	}
	b = strconv.AppendUint(append(b, ','), r.Seq, 10)
	return append(b, '\r', '\n')
}

// appendNumber writes the shortest text that gives the number back; nothing for NaN.
func appendNumber(b []byte, v float64) []byte {
	if math.IsNaN(v) {
		return b
	}
	return strconv.AppendFloat(b, v, 'g', -1, 64)
}

// appendSeconds writes a duration exactly, without zeros at its end.
func appendSeconds(b []byte, d time.Duration) []byte {
	if d < 0 {
		b, d = append(b, '-'), -d
	}
	b = strconv.AppendInt(b, int64(d/time.Second), 10)
	frac := int64(d % time.Second)
	if frac == 0 {
		return b
	}
	digits := fmt.Sprintf("%09d", frac)
	return append(append(b, '.'), strings.TrimRight(digits, "0")...)
}

func appendText(b []byte, s string) []byte {
	if !strings.ContainsAny(s, ",\"\r\n") && s == strings.TrimSpace(s) {
		return append(b, s...)
	}
	b = append(b, '"')
	b = append(b, strings.ReplaceAll(s, `"`, `""`)...)
	return append(b, '"')
}
