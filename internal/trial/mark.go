package trial

// mark is what the quick trial asks of a row in one setting: that the interval of what was reached comes into the range.
// It is no aim: it is what a change of the program must not lose.
type mark struct {
	id, metric, scenario string
	set                  string
	world                World
	seeds                uint64
	pass                 [2]float64
}

// marks are those of the quick trial, with so few replicates that it takes less than three minutes.
var marks = []mark{
	{"size", "held", "leak of a week", "A", Weekly, 8, atLeast(0.8)},
	{"size", "held", "leak of a week", "C", Weekly, 8, atLeast(0.8)},
	{"seen", "seen same day", "leak 15", "A", Daily, 8, atLeast(0.9)},
	{"seen", "seen same day", "leak 15", "C", Daily, 8, atLeast(0.9)},
	{"seen", "seen in a week", "leak 8", "A", Daily, 8, atLeast(0.9)},
	{"false", "alarms", "healthy year", "A", Daily, 3, atMost(1)},
	{"filter", "cleaning seen", "healthy year", "A", Daily, 3, atLeast(0.9)},
	{"where", "branch right", "trunk leak 90", "C", Daily, 8, atLeast(0.8)},
	{"blocked", "told in time", "blocked drop", "A", Daily, 6, atLeast(0.8)},
	{"slip", "told in a day", "slip 1.5", "A", Daily, 8, atLeast(0.8)},
	{"plugged", "told in a day", "plugged tap", "A", Daily, 6, atLeast(0.8)},
	{"gates", "sure right", silentGates, "C", Daily, 2, atLeast(0.95)},
}

// markOf returns the mark of a cell, nil where it has none.
func markOf(c cell) *mark {
	for i := range marks {
		m := &marks[i]
		if m.id == c.row.id && m.metric == c.row.metric && m.scenario == c.Scenario && m.set == c.Set && m.world == c.World &&
			c.Hood == ordinaryHoods && c.Air {
			return m
		}
	}
	return nil
}
