package plant

import (
	"math"
	"time"
)

// The shop's weather: common figures of a temperate climate, no source.
const (
	yearSwing    = 4.0   // K, half the swing of the room from winter to summer
	dayRise      = 2.0   // K, from morning to afternoon
	roomSD       = 1.2   // K, from day to day
	roomKeep     = 0.7   // correlation from day to day
	barometerSD  = 850.0 // Pa, from day to day
	baroKeep     = 0.75
	humidYear    = 0.08 // half the swing of the relative humidity
	weatherEvery = 30 * time.Minute
)

// air adds the day's weather.
func (w *Workdays) air(d *day) {
	room0, baro0 := w.deviation(d.n)
	room1, baro1 := w.deviation(d.n + 1)
	base := siteAir(w.o.Site)
	warmer, stands, damper := inAll(w.o.Faults, WarmEvent, d.n), inAll(w.o.Faults, BarometerEvent, d.n), inAll(w.o.Faults, HumidEvent, d.n)
	season := math.Sin(2 * math.Pi * float64(w.Date(d.n).YearDay()-110) / 365.25)
	from, to := 6*time.Hour, 18*time.Hour
	if w.busyDay(d.n) {
		from, to = 0, 24*time.Hour
	}
	for t := from; t < to; t += weatherEvery {
		x := t.Hours() / 24
		warm := math.Sin(2 * math.Pi * (x - 0.38))
		d.add(Event{At: t, Kind: AirEvent, Air: Weather{
			Temperature: base.Temperature + yearSwing*season + roomSD*(room0*(1-x)+room1*x) + dayRise/2*warm + warmer,
			Pressure:    base.Pressure + barometerSD*(baro0*(1-x)+baro1*x) + stands,
			Humidity:    math.Min(0.95, math.Max(0.2, base.Humidity+humidYear*season-0.03*room0+damper)),
		}})
	}
}

// deviation returns how far room and barometer are from the season's at a day's midnight, in standard deviations.
func (w *Workdays) deviation(n int) (room, baro float64) {
	for len(w.weather) < 2*(n+1) {
		k := len(w.weather) / 2
		r := w.stream(k, weatherStream)
		a, b := r.NormFloat64(), r.NormFloat64()
		if k > 0 {
			a = roomKeep*w.weather[2*k-2] + math.Sqrt(1-roomKeep*roomKeep)*a
			b = baroKeep*w.weather[2*k-1] + math.Sqrt(1-baroKeep*baroKeep)*b
		}
		w.weather = append(w.weather, a, b)
	}
	return w.weather[2*n], w.weather[2*n+1]
}
