package trial

import (
	"math"
	"math/rand/v2"

	"ductward/internal/plant"
	"ductward/internal/shop"
)

// believedLeaks names the scenario of the reliability table.
const believedLeaks = "believed leak"

// believedLeak is the standard deviation of a leak's size before anything is seen of it, in m³/h at 1500 Pa, as the watch has it.
const believedLeak = 100.0

// leastBelieved is the smallest such leak that is drawn: of less, a place matters to nobody.
const leastBelieved = 15.0

// believedPlaces lists all places where the watch takes a leak to be as likely as anywhere. A stated probability is right as often
// as it says only where what happens is what was believed beforehand: of leaks in the trunk alone, places in the trunk are right
// more often than stated, and of leaks in drops alone less often.
func believedPlaces(c *shop.Collector) []string {
	out := []string{"separator:" + c.Name}
	for _, r := range c.Network.Runs {
		if c.LeaksApart(r.Name) {
			out = append(out, "run:"+r.Name)
		}
	}
	for _, g := range c.Gates {
		out = append(out, "seat:"+g.Name, "drop:"+g.Name)
	}
	for _, m := range c.Machines {
		out = append(out, "open-side:"+m.Name)
	}
	return out
}

// believed opens a leak as the watch believes them to open, by place and size.
func believed(c *shop.Collector, seed uint64) []plant.Fault {
	rng := rand.New(rand.NewPCG(seed, faultStream))
	size := 0.0
	for size < leastBelieved {
		size = believedLeak * math.Abs(rng.NormFloat64())
	}
	places := believedPlaces(c)
	return []plant.Fault{{Day: faultDay, At: faultHour, Kind: plant.LeakEvent, Name: places[rng.IntN(len(places))], Size: size / hour}}
}

// measureBelieved compares where such a leak is said to be with where it is. One that is told as no leak says nothing of places.
func measureBelieved(l *life, m Metrics) {
	f := l.leakSeen(l.days)
	m.add("seen", flag(f != nil))
	if f == nil {
		return
	}
	measurePlace(l, f, m)
	for i, p := range m["place stated"] {
		m.add("excess", m["place right"][i]-p)
	}
}
