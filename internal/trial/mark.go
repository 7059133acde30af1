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
var marks = []mark{}

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
