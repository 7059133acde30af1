package alarm_test

import (
	"fmt"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
)

// A leak is found in the morning, seen by a person, sealed, and its alarm clears an hour later.
func ExampleManager() {
	morning := time.Date(2026, 3, 16, 8, 0, 0, 0, time.UTC)
	leak := finding.Finding{ID: "leak-7", Collector: "main", Kind: finding.NewLeak, Subject: "trunk 3",
		Priority: finding.Plan, Raised: morning, Text: "7 L/s (5 to 9) leak into trunk 3 since Friday"}
	m := alarm.NewManager(nil, alarm.DefaultOptions())
	for _, a := range m.Update(morning, []finding.Finding{leak}) {
		fmt.Println(a.State, "-", a.Text)
	}
	a, err := m.Acknowledge("leak-7", "Ines Holm", morning.Add(20*time.Minute))
	fmt.Println(a.State, "by", a.AckedBy, err)
	leak.Ended = morning.Add(4 * time.Hour)
	for _, a := range m.Update(morning.Add(5*time.Hour), []finding.Finding{leak}) {
		fmt.Println(a.State, "at", a.Cleared.Format("15:04"))
	}
	// Output:
	// active, unacknowledged - 7 L/s (5 to 9) leak into trunk 3 since Friday
	// active, acknowledged by Ines Holm <nil>
	// cleared at 13:00
}
