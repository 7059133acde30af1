package dashboard

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

// logbookBody is the content of the logbook.
type logbookBody struct {
	Sentence string
	Kinds    []kindButton
	Subjects []string
	By       string
	Kept     string // what has just been written down
	From, To string // of the record that is shown
	Problem  string
	Days     []logDay
	Period   string // in words, for paper
	Made     string
	Results  []journal.Result
	Checks   []checkRow
	Entries  int    // of the whole logbook
	Head     string // of their chain
}

// kindButton writes a line of one kind.
type kindButton struct {
	Kind  journal.Kind
	Title string
}

// logDay is one day of the record.
type logDay struct {
	Date  string
	Lines []logLine
}

// logLine is one thing that was done or noticed.
type logLine struct {
	Time, What, About, Note, By string
	Noticed                     bool // by the tool
	Number                      int  // of the entry; 0: it is none
	CorrectedBy                 int  // number of the entry that stands in its place; 0: it holds
	at                          time.Time
}

// logbookView joins what people did and what the tool noticed in one line of time.
func (s *server) logbookView(rq *request) (any, error) {
	b := logbookBody{Subjects: s.subjects(), By: remembered(rq.Request), Made: s.clockTime(rq.now)}
	for _, k := range journal.Kinds {
		if k.Verdict() || k == journal.LeakHunt || k == journal.LeakHuntEnded {
			continue // that is done on the pages of the set-up and of the hunt, where one sees on what
		}
		b.Kinds = append(b.Kinds, kindButton{k, entryTitle(k)})
	}
	if k := rq.URL.Query().Get("kept"); entryTitles[journal.Kind(k)] != "" {
		b.Kept = entryTitle(journal.Kind(k))
	}
	from, to, err := s.period(rq)
	if err != nil {
		b.Problem = err.Error()
	}
	b.From, b.To = s.local(from).Format(time.DateOnly), s.local(to.Add(-time.Second)).Format(time.DateOnly)
	b.Period = s.local(from).Format("2 January 2006") + " to " + s.local(to.Add(-time.Second)).Format("2 January 2006")
	lines, err := s.logLines(rq, from, to)
	if err != nil {
		return nil, err
	}
	b.Days, b.Results = s.logDays(lines), journal.Results
	all, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	b.Checks = s.checkRows(all, rq.now)
	if b.Entries = len(all); b.Entries > 0 {
		b.Head = journal.Head(all).String()
	}
	b.Sentence = logSentence(lines)
	return b, nil
}

// period is what the record covers: whole local days, the last 90 unless the query says otherwise.
func (s *server) period(rq *request) (from, to time.Time, err error) {
	today := s.local(rq.now)
	end := time.Date(today.Year(), today.Month(), today.Day()+1, 0, 0, 0, 0, today.Location())
	from, to = end.AddDate(0, 0, -90), end
	q := rq.URL.Query()
	if text := q.Get("from"); text != "" {
		t, e := time.ParseInLocation(time.DateOnly, text, today.Location())
		if e != nil {
			return from, to, fmt.Errorf("%q is not a day: write it as 2026-03-14", text)
		}
		from = t
	}
	if text := q.Get("to"); text != "" {
		t, e := time.ParseInLocation(time.DateOnly, text, today.Location())
		if e != nil {
			return from, to, fmt.Errorf("%q is not a day: write it as 2026-03-14", text)
		}
		to = t.AddDate(0, 0, 1)
	}
	if !from.Before(to) {
		return to.AddDate(0, 0, -1), to, fmt.Errorf("the period ends before it begins: turn the two days round")
	}
	return from, to, nil
}

// logLines collects the lines of a period, newest first.
func (s *server) logLines(rq *request, from, to time.Time) ([]logLine, error) {
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	var out []logLine
	add := func(l logLine) {
		if !l.at.Before(from) && l.at.Before(to) {
			l.Time = s.local(l.at).Format("15:04")
			out = append(out, l)
		}
	}
	seen := map[string]bool{} // alarms of which the logbook has who saw them
	for _, l := range entryLines(entries, seen) {
		add(l)
	}
	if rq.snap != nil {
		for i := range rq.snap.Collectors {
			for j := range rq.snap.Collectors[i].Findings {
				if f := &rq.snap.Collectors[i].Findings[j]; !zeroEntered(entries, f) {
					s.findingLines(f, add)
				}
			}
		}
	}
	for _, a := range s.Alarms.List() {
		if !a.Acked.IsZero() && !seen[a.ID] {
			add(logLine{at: a.Acked, What: "Alarm seen", Note: s.words(a.Text), By: a.AckedBy})
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].at.After(out[j].at) })
	return out, nil
}

// zeroEntered tells whether the logbook itself has a zero that moved.
func zeroEntered(entries []journal.Entry, f *finding.Finding) bool {
	return f.Kind == finding.SensorZero && slices.ContainsFunc(entries, func(e journal.Entry) bool {
		return e.Kind == journal.ZeroMoved && e.Subject == f.Subject && e.Time.Equal(f.Raised)
	})
}

// entryLines are the entries of the logbook, each with its number and with what corrects it. What raises and clears an
// alarm is told by its finding, and is left out.
func entryLines(entries []journal.Entry, seen map[string]bool) (out []logLine) {
	by := map[uint64]int{}
	for i := range entries {
		if c := entries[i].Corrects; c > 0 && c <= uint64(i) {
			by[c] = i + 1
		}
	}
	for i := range entries {
		e := &entries[i]
		l := logLine{at: e.Time, Number: i + 1, What: entryTitle(e.Kind), About: e.Subject, Note: e.Note, By: e.By, CorrectedBy: by[uint64(i+1)]}
		if e.Corrects > 0 {
			l.What += fmt.Sprintf(" (in place of entry %d)", e.Corrects)
		}
		if e.Result != "" {
			l.What += ": " + string(e.Result)
		}
		if e.Action != "" {
			l.Note = strings.TrimSpace(l.Note + " To do or done: " + e.Action)
		}
		if e.Kind == journal.Alarm {
			if e.Event == string(alarm.Raised) || e.Event == string(alarm.Cleared) {
				continue
			}
			seen[e.Alarm] = seen[e.Alarm] || e.Event == string(alarm.Acknowledged)
			l.What = "Alarm " + e.Event
			if e.Event == string(alarm.Acknowledged) {
				l.What = "Alarm seen"
			}
		}
		out = append(out, l)
	}
	return out
}

// findingLines are the beginning and the end of a finding.
func (s units) findingLines(f *finding.Finding, add func(logLine)) {
	about := f.Subject
	if about == "" {
		about = f.Collector
	}
	if !f.Raised.IsZero() {
		add(logLine{at: f.Raised, What: kindTitle(f.Kind), About: about, Note: s.words(f.Text), Noticed: true})
	}
	if !f.Active() && f.Priority != finding.Journal { // what asked nothing of anybody has no end worth a line
		add(logLine{at: f.Ended, What: "No longer so: " + lowerFirst(kindTitle(f.Kind)), About: about, Noticed: true})
	}
}

// logDays cuts the lines into days.
func (s *server) logDays(lines []logLine) []logDay {
	var out []logDay
	for _, l := range lines {
		date := s.local(l.at).Format("Monday 2 January 2006")
		if len(out) == 0 || out[len(out)-1].Date != date {
			out = append(out, logDay{Date: date})
		}
		out[len(out)-1].Lines = append(out[len(out)-1].Lines, l)
	}
	return out
}

// logSentence says what the record comes to.
func logSentence(lines []logLine) string {
	done, noticed := 0, 0
	for _, l := range lines {
		if l.Noticed {
			noticed++
		} else {
			done++
		}
	}
	if done+noticed == 0 {
		return "Nothing was written down or noticed in this period."
	}
	return fmt.Sprintf("%s written down by people, %s noticed by the tool.", capital(count(done, "line")), count(noticed, "change"))
}
