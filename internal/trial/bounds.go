package trial

import (
	"math"
	"slices"

	"ductward/internal/bound"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// bounding works out the bound of a row from the record of its setting: of a rate the largest, of an error the least.
type bounding func(s *study, sc *scenario) (float64, error)

// The draws with which the bound of a rate of places is worked out, and their seed.
const (
	boundDraws = 400
	boundSeed  = 1
)

// leaksAt finds places among the changes of a study.
func (s *study) leaksAt(where func(*shop.Collector) []string) []int {
	var out []int
	for _, part := range where(s.c) {
		if k := s.leakAt(part); k >= 0 {
			out = append(out, k)
		}
	}
	return out
}

// threshold is that of the promise for all alarms of the shop.
func (s *study) threshold() float64 {
	return bound.FamilyOf(s.r, s.c.Alarms.FalseAlarmsPerYear).Threshold()
}

// sizeBound is the standard error of a leak of a size in m³/h, the root of the mean square over the places, told at the
// scenario's end. The loss of each drop may have changed by as much as the watch allows for.
func sizeBound(size float64, where func(*shop.Collector) []string) bounding {
	return func(s *study, sc *scenario) (float64, error) {
		from := sc.fault(s.c, 1)[0].Day
		space, err := s.step(from, sc.days, s.r.Noise.DropDrift)
		if err != nil {
			return 0, err
		}
		sum, places := 0.0, s.leaksAt(where)
		for _, k := range places {
			sum += math.Pow(hour*space.SD(k, size/hour), 2)
		}
		return math.Sqrt(sum / float64(len(places))), nil
	}
}

// seenBound is how often a sudden leak of a size is found within so many days of the calendar.
func seenBound(size float64, within int) bounding {
	return func(s *study, sc *scenario) (float64, error) {
		space, err := s.step(faultDay, faultDay+within, 0)
		if err != nil {
			return 0, err
		}
		return space.MeanPower(s.leaksAt(anywhere), size/hour, s.threshold()), nil
	}
}

// growing returns the record up to a day and the course of something that grows by 1 a month from the fault's day on.
func (s *study) growing(to int) (*bound.Record, []float64, error) {
	all := s.until(to)
	rec, err := bound.NewRecord(s.r, s.days[:all])
	if err != nil {
		return nil, nil, err
	}
	course := make([]float64, all)
	for d, date := range s.dates[:all] {
		course[d] = max(0, float64(date-faultDay)+0.5) / month
	}
	return rec, course, nil
}

// growthBound is how often a growth in m³/h a month is found within so many days.
func growthBound(perMonth float64, within int) bounding {
	return func(s *study, _ *scenario) (float64, error) {
		rec, course, err := s.growing(faultDay + within)
		if err != nil {
			return 0, err
		}
		space, err := rec.Space(course)
		if err != nil {
			return 0, err
		}
		return space.MeanPower(s.leaksAt(anywhere), perMonth/hour, s.threshold()), nil
	}
}

// nineOfTen is the standard normal quantile that nine of ten errors lie within.
const nineOfTen = 1.6448536269514722

// onsetBound is within how many days of work the onset of a growth is told nine times of ten, its rate free. With the mean
// g·(t−t₀), the derivative by the onset is −g times a step; the information on both together follows from that on a step,
// on a ramp and on their sum.
func onsetBound(perMonth float64) bounding {
	return func(s *study, sc *scenario) (float64, error) {
		rec, ramp, err := s.growing(sc.days)
		if err != nil {
			return 0, err
		}
		before := s.until(faultDay)
		step := bound.Step(before, len(ramp)-before)
		both := make([]float64, len(ramp))
		for d := range both {
			both[d] = step[d] + ramp[d]
		}
		var spaces []*bound.Space
		for _, course := range [][]float64{step, ramp, both} {
			space, err := rec.Space(course)
			if err != nil {
				return 0, err
			}
			spaces = append(spaces, space)
		}
		sum, places := 0.0, s.leaksAt(anywhere)
		for _, k := range places {
			of := func(i int) float64 { return math.Pow(spaces[i].SD(k, 0), -2) }
			cross := (of(2) - of(0) - of(1)) / 2
			sum += 1 / (of(0) - cross*cross/of(1))
		}
		days := math.Sqrt(sum/float64(len(places))) / (perMonth / hour / month)
		return nineOfTen * days * float64(len(s.dates)) / float64(s.dates[len(s.dates)-1]+1), nil
	}
}

// onsetDayBound is how often the day of a sudden leak is told: it must be nearer to what is seen than the days beside it,
// which differ from it by one day's worth of leak each.
func onsetDayBound(size float64) bounding {
	return func(s *study, sc *scenario) (float64, error) {
		all, at := s.until(sc.days), s.until(faultDay)
		rec, err := bound.NewRecord(s.r, s.days[:all])
		if err != nil {
			return 0, err
		}
		course := make([]float64, all)
		course[at] = 1
		space, err := rec.Space(course)
		if err != nil {
			return 0, err
		}
		sum, places := 0.0, s.leaksAt(anywhere)
		for _, k := range places {
			sum += max(0, math.Erf(size/hour/space.SD(k, 0)/2/math.Sqrt2))
		}
		return sum / float64(len(places)), nil
	}
}

// placeBound is how often a place is told, of a leak of a size at the end of the scenario.
func placeBound(size float64, where func(*shop.Collector) []string, figure func(bound.Place) float64) bounding {
	return func(s *study, sc *scenario) (float64, error) {
		space, err := s.step(faultDay, sc.days, 0)
		if err != nil {
			return 0, err
		}
		return figure(space.Places(s.leaksAt(where), size/hour, bound.UsualPrior(), boundDraws, boundSeed)), nil
	}
}

func branchSure(p bound.Place) float64 { return p.BranchSure }
func firstTwo(p bound.Place) float64   { return p.FirstTwo }
func sure(p bound.Place) float64       { return p.Sure }

// filterBound is the standard error of a day's resistance against the mean of the days before, in hundredths.
func filterBound(s *study, _ *scenario) (float64, error) {
	before := s.until(faultDay)
	rec, err := bound.NewRecord(s.r, s.days[:before+1])
	if err != nil {
		return 0, err
	}
	sd, err := rec.FilterSD(before)
	return 100 * sd, err
}

// blockedBound is how often a drop's loss that rose by a factor is found by the day of so many uses.
func blockedBound(factor float64, uses int) bounding {
	return func(s *study, _ *scenario) (float64, error) {
		sum, n := 0.0, 0.0
		byDay := map[int][]int{}
		var days []int
		for _, m := range s.c.Machines {
			day, k := s.dayOfUse(m.Name, uses), s.r.Find(bound.Block, m.Name)
			if day < 0 || k < 0 {
				continue
			}
			if byDay[day] == nil {
				days = append(days, day)
			}
			byDay[day] = append(byDay[day], k)
		}
		slices.Sort(days)
		for _, day := range days {
			space, err := s.step(faultDay, day+1, 0)
			if err != nil {
				return 0, err
			}
			sum += space.MeanPower(byDay[day], math.Log(factor), s.threshold()) * float64(len(byDay[day]))
			n += float64(len(byDay[day]))
		}
		if n == 0 {
			return 0, errNoDays
		}
		return sum / n, nil
	}
}

// dayOfUse is the day of the calendar on which a machine is used for the n-th time since the fault, -1 if never.
func (s *study) dayOfUse(machine string, n int) int {
	for _, d := range s.dates[s.until(faultDay):] {
		for _, e := range s.work.Day(d) {
			if e.Kind == plant.UseEvent && e.Name == machine {
				if n--; n == 0 {
					return d
				}
			}
		}
	}
	return -1
}

// slipBound is how often a fan that is slower by a share is found within so many days of work.
func slipBound(share float64, within int) bounding {
	return func(s *study, _ *scenario) (float64, error) {
		before := s.until(faultDay)
		rec, err := bound.NewRecord(s.r, s.days[:min(before+within, len(s.days))])
		if err != nil {
			return 0, err
		}
		space, err := rec.Space(bound.Step(before, within))
		if err != nil {
			return 0, err
		}
		return space.Power(s.r.Find(bound.Speed, ""), share, s.threshold()), nil
	}
}
