package reading

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"strconv"
	"strings"
	"time"
)

// Units converts a value that a file states in unit to SI, for the kind of quantity that the channel reads. An error
// says which units the channel takes. It is not asked about switches.
type Units func(channel, unit string, v float64) (si float64, err error)

// RowError is a mistake in one row of a file. The rows after it can still be read.
type RowError struct {
	File string
	Line int
	Err  error
}

func (e *RowError) Error() string { return fmt.Sprintf("%s:%d: %v", e.File, e.Line, e.Err) }
func (e *RowError) Unwrap() error { return e.Err }

// longestLine bounds a line, in bytes, so that a file that is no CSV does not fill memory.
const longestLine = 64 << 10

// ReadCSV reads the rows of a file as they come; name is what errors call it. The header says which columns there are:
// time, channel, value and unit must be, span_s, sd, n, quality, boot, mono_s and seq may be, others are passed over.
//
// A row without a boot gets Boot 0 and Mono from the time of the first such row, below zero if it is earlier; a row
// without a sequence gets its number in the file. A row with a mistake is given as a *RowError, and the next ones
// follow; any other error is the last thing given. Rows need not be sorted: ReadAll sorts.
func ReadCSV(r io.Reader, name string, units Units) iter.Seq2[Reading, error] {
	return func(yield func(Reading, error) bool) {
		in := csv.NewReader(&lineLimit{r: r})
		in.ReuseRecord = true
		in.FieldsPerRecord = -1
		p := rowParser{units: units}
		header, err := in.Read()
		if err == nil {
			err = p.header(header)
		}
		if errors.Is(err, io.EOF) {
			err = errors.New(`the file is empty: write the header "time,channel,value,unit,span_s" and a row for each reading`)
		}
		if err != nil {
			yield(Reading{}, atLine(name, 1, err))
			return
		}
		for {
			row, err := in.Read()
			if errors.Is(err, io.EOF) {
				return
			}
			if err != nil {
				yield(Reading{}, atLine(name, 0, err))
				return
			}
			line, _ := in.FieldPos(0)
			reading, err := p.row(row)
			if err != nil {
				err = &RowError{name, line, err}
			}
			if !yield(reading, err) {
				return
			}
		}
	}
}

// atLine puts the place in front of an error, from the CSV reader's own knowledge of it if it has any.
func atLine(name string, line int, err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		line, err = parse.Line, parse.Err
	}
	if line == 0 {
		return fmt.Errorf("%s: %w", name, err)
	}
	return &RowError{name, line, err}
}

// lineLimit passes r on and fails at a line that is too long. It drops a byte-order mark.
type lineLimit struct {
	r       io.Reader
	run     int
	started bool
}

func (l *lineLimit) Read(b []byte) (int, error) {
	n, err := l.r.Read(b)
	got := b[:n]
	if !l.started && n >= 3 {
		l.started = true
		if string(got[:3]) == "\ufeff" {
			n = copy(b, got[3:])
			got = b[:n]
		}
	}
	for _, c := range got {
		if l.run++; c == '\n' {
			l.run = 0
		}
		if l.run > longestLine {
			return 0, fmt.Errorf("a line is longer than %d bytes: is this a CSV file of readings?", longestLine)
		}
	}
	return n, err
}

// The columns that are read, in the order in which they are written.
const (
	colTime = iota
	colChannel
	colValue
	colUnit
	colSpan
	colSD
	colN
	colQuality
	colBoot
	colMono
	colSeq
	columns
)

var columnNames = [columns]string{"time", "channel", "value", "unit", "span_s", "sd", "n", "quality", "boot", "mono_s", "seq"}

// rowParser turns rows into readings.
type rowParser struct {
	units    Units
	at       [columns]int // index of each column in a row, −1 where it is not there
	width    int
	rows     uint64
	first    time.Time         // time of the first row without a boot
	channels map[string]string // so that equal names share their memory
}

func (p *rowParser) header(names []string) error {
	for i := range p.at {
		p.at[i] = -1
	}
	for i, name := range names {
		for c, known := range columnNames {
			if strings.TrimSpace(name) != known {
				continue
			}
			if p.at[c] >= 0 {
				return fmt.Errorf("column %q is there twice: leave one out", known)
			}
			p.at[c] = i
		}
	}
	p.width = len(names)
	p.channels = map[string]string{}
	for c := colTime; c <= colUnit; c++ {
		if p.at[c] >= 0 {
			continue
		}
		if len(names) == 1 && strings.Contains(names[0], ";") {
			return errors.New("the columns are separated by semicolons: separate them by commas, and write 1.5 for one and a half")
		}
		return fmt.Errorf("the header has no column %q: write %q", columnNames[c], strings.Join(columnNames[:], ","))
	}
	return nil
}

// field returns a column of the row, "" where it is not there.
func (p *rowParser) field(row []string, c int) string {
	if p.at[c] < 0 {
		return ""
	}
	return strings.TrimSpace(row[p.at[c]])
}

func (p *rowParser) row(row []string) (r Reading, err error) {
	p.rows++
	if len(row) != p.width {
		return r, fmt.Errorf("the row has %d fields and the header %d: write a decimal point, not a comma, and quote a name with a comma in it",
			len(row), p.width)
	}
	if r.Channel, err = p.channel(p.field(row, colChannel)); err != nil {
		return r, err
	}
	if err = p.place(row, &r); err != nil {
		return r, err
	}
	if err = p.value(row, &r); err != nil {
		return r, err
	}
	if r.Span, err = parseSeconds("span_s", p.field(row, colSpan)); err != nil {
		return r, err
	}
	if s := p.field(row, colN); s != "" {
		n, err := strconv.ParseUint(s, 10, 31)
		if err != nil {
			return r, fmt.Errorf("n %q is not a number of samples: write a whole number, or nothing", s)
		}
		r.N = int(n)
	}
	r.Quality, err = ParseQuality(p.field(row, colQuality))
	return r, err
}

func (p *rowParser) channel(name string) (string, error) {
	known, ok := p.channels[name]
	if ok {
		return known, nil
	}
	if name == "" {
		return "", errors.New(`there is no channel: write its name in the shop file, such as "north/filter drop" or "gate/saw"`)
	}
	name = strings.Clone(name) // the row's memory is used again
	p.channels[name] = name
	return name, nil
}

// place reads when: time, boot, mono_s and seq.
func (p *rowParser) place(row []string, r *Reading) (err error) {
	if s := p.field(row, colTime); s != "" {
		if r.Time, err = parseTime(s); err != nil {
			return err
		}
	}
	r.Seq = p.rows
	if s := p.field(row, colSeq); s != "" {
		if r.Seq, err = strconv.ParseUint(s, 10, 64); err != nil {
			return fmt.Errorf("seq %q is not a whole number: write one, or nothing", s)
		}
	}
	boot, mono := p.field(row, colBoot), p.field(row, colMono)
	if boot == "" || boot == "0" {
		return p.placeByTime(r)
	}
	b, err := strconv.ParseUint(boot, 10, 32)
	if err != nil {
		return fmt.Errorf("boot %q is not a whole number: write one, or nothing", boot)
	}
	if mono == "" {
		return fmt.Errorf("boot %s has no mono_s beside it: write the seconds since the boot, or no boot", boot)
	}
	r.Boot = uint32(b)
	r.Mono, err = parseSeconds("mono_s", mono)
	return err
}

func (p *rowParser) placeByTime(r *Reading) error {
	if r.Time.IsZero() {
		return errors.New("there is no time: write one such as 2026-03-01T08:00:00+01:00, or boot and mono_s")
	}
	if p.first.IsZero() {
		p.first = r.Time
	}
	r.Mono = r.Time.Sub(p.first)
	return nil
}

func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err == nil {
		return t, nil
	}
	for _, layout := range []string{"2006-01-02T15:04:05.999999999", "2006-01-02 15:04:05.999999999"} {
		if _, err := time.Parse(layout, s); err == nil {
			return t, fmt.Errorf("time %q does not say its offset: write %q, or Z for UTC", s,
				strings.Replace(s, " ", "T", 1)+"+01:00")
		}
	}
	return t, fmt.Errorf("time %q cannot be read: write it as in 2026-03-01T08:00:00+01:00", s)
}

// value reads what: value, unit and sd.
func (p *rowParser) value(row []string, r *Reading) error {
	s, unit := p.field(row, colValue), p.field(row, colUnit)
	r.Value, r.SD = math.NaN(), math.NaN()
	if s == "" {
		if IsSwitch(r.Channel) {
			return nil
		}
		return fmt.Errorf("channel %q has no value: leave the row out; only a switch can be not known", r.Channel)
	}
	v, err := parseNumber("value", s)
	if err != nil {
		return err
	}
	if IsSwitch(r.Channel) {
		r.Value = v
		return checkSwitch(r.Channel, v)
	}
	if r.Value, err = p.units(r.Channel, unit, v); err != nil {
		return err
	}
	if s = p.field(row, colSD); s == "" {
		return nil
	}
	sd, err := parseNumber("sd", s)
	if err != nil || sd < 0 {
		return fmt.Errorf("sd %q is not a standard deviation: write a number of 0 or more, or nothing", s)
	}
	// A deviation has no origin: 1 °C of it is 1 K. The difference from zero is exact where the unit is SI.
	hi, err := p.units(r.Channel, unit, sd)
	if err != nil {
		return err
	}
	lo, err := p.units(r.Channel, unit, 0)
	r.SD = math.Abs(hi - lo)
	return err
}

func checkSwitch(channel string, v float64) error {
	if strings.HasPrefix(channel, "selector/") {
		if v < 0 || v != math.Trunc(v) || v > math.MaxInt32 {
			return fmt.Errorf("channel %q: %g is no port: write its number, 0 for none, or nothing for not known", channel, v)
		}
		return nil
	}
	if v != 0 && v != 1 {
		return fmt.Errorf("channel %q: %g is no position: write 1 (open, on), 0 (shut, off), or nothing for not known", channel, v)
	}
	return nil
}

func parseNumber(what, s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%s %q is not a number: write one such as 812.5", what, s)
	}
	return v, nil
}

// longestSeconds is 292 years: what fits a duration.
const longestSeconds = math.MaxInt64 / 1_000_000_000

// parseSeconds reads decimal seconds of 0 or more, exact to the nanosecond; the empty text is 0.
func parseSeconds(what, s string) (time.Duration, error) {
	if s == "" {
		return 0, nil
	}
	whole, frac, _ := strings.Cut(s, ".")
	n, err := strconv.ParseUint(whole, 10, 63)
	if err == nil && n < longestSeconds && len(frac) <= 9 {
		f := uint64(0)
		if frac != "" {
			f, err = strconv.ParseUint(frac+"000000000"[len(frac):], 10, 63)
		}
		if err == nil {
			return time.Duration(n*1e9 + f), nil
		}
	}
	// What is written with an exponent or too many digits is rounded to the nanosecond.
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v >= 0 && v < longestSeconds) {
		return 0, fmt.Errorf("%s %q is not a number of seconds of 0 or more: write one such as 60 or 0.5", what, s)
	}
	return time.Duration(math.Round(v * 1e9)), nil
}
