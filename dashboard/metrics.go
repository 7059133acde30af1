package dashboard

import (
	"math"
	"net/http"
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"ductward/internal/estimate"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// metric is one family of what other programs may scrape. The unit ends its name, as OpenMetrics 1.0 has it; a value that is
// not known is left out.
type metric struct {
	name, help string
	labels     []string
}

// The families. Names are added, never changed.
var (
	mPressure = metric{"ductward_pressure_pascals", "Last reading of a pressure sensor, zero taken off; suction is negative.", []string{"channel"}}
	mTemp     = metric{"ductward_temperature_celsius", "Last reading of a temperature sensor.", []string{"channel"}}
	mHumidity = metric{"ductward_relative_humidity_ratio", "Last reading of a humidity sensor.", []string{"channel"}}
	mPower    = metric{"ductward_fan_power_watts", "Last reading of the fan's electrical power.", []string{"channel"}}
	mSpeed    = metric{"ductward_fan_speed_hertz", "Last reading of the fan's speed, in revolutions a second.", []string{"channel"}}
	mSwitch   = metric{"ductward_switch_position", "Where a gate, a selector or a fan stands: 0, 1, or the number of a port.", []string{"channel"}}
	mReadAt   = metric{"ductward_reading_timestamp_seconds", "Civil time of a channel's last reading.", []string{"channel"}}
	mUp       = metric{"ductward_sensor_sound", "1 where a sensor or switch yields readings, 0 where it has a fault.", []string{"channel"}}
	mFan      = metric{"ductward_fan_running", "1 while the fan is known to run.", []string{"collector"}}
	mFlow     = metric{"ductward_air_flow_cubic_meters_per_second", "Estimated flow through the fan.", []string{"collector"}}
	mFlowSE   = metric{"ductward_air_flow_error_cubic_meters_per_second", "Its standard error.", []string{"collector"}}
	mFilter   = metric{"ductward_filter_resistance_ratio", "Estimated filter resistance over its baseline.", []string{"collector"}}
	mFilterSE = metric{"ductward_filter_resistance_error_ratio", "Its standard error.", []string{"collector"}}
	mLeak     = metric{"ductward_new_leakage_cubic_meters_per_second", "Estimated leakage since the baseline, at the reference suction.", []string{"collector"}}
	mLeakSE   = metric{"ductward_new_leakage_error_cubic_meters_per_second", "Its standard error.", []string{"collector"}}
	mMachine  = metric{"ductward_machine_flow_cubic_meters_per_second", "Estimated flow at an open machine.", []string{"collector", "machine"}}
	mNeeds    = metric{"ductward_machine_needs_cubic_meters_per_second", "What a machine needs by the shop file.", []string{"collector", "machine"}}
	mAlarm    = metric{"ductward_alarm_active", "1 while an alarm is active, 0 while it is cleared and nobody has seen it.", []string{"cause", "priority", "acknowledged", "held"}}
	mWaiting  = metric{"ductward_letters_waiting", "Letters that wait for a target.", []string{"target"}}
	mFailures = metric{"ductward_target_failures", "Attempts at a target that failed in a row.", []string{"target"}}
	mToldAt   = metric{"ductward_target_delivered_timestamp_seconds", "Civil time of the last delivery to a target.", []string{"target"}}
	mBuild    = metric{"ductward_build_info", "The program's version.", []string{"version"}}
)

// scrape makes the metrics of one moment.
type scrape struct{ s *server }

// Describe says nothing: which metrics there are depends on what is known.
func (scrape) Describe(chan<- *prometheus.Desc) {}

// Collect sends what is known now.
func (c scrape) Collect(out chan<- prometheus.Metric) {
	sent := map[string]bool{} // what comes twice would spoil the whole scrape
	put := func(m metric, v float64, labels ...string) {
		for i, l := range labels {
			labels[i] = strings.ToValidUTF8(l, "�")
		}
		key := m.name + "\xff" + strings.Join(labels, "\xff")
		if math.IsNaN(v) || math.IsInf(v, 0) || sent[key] {
			return
		}
		sent[key] = true
		out <- prometheus.MustNewConstMetric(prometheus.NewDesc(m.name, m.help, m.labels, nil), prometheus.GaugeValue, v, labels...)
	}
	put(mBuild, 1, c.s.Version)
	if snap := c.s.Watch.Snapshot(); snap != nil {
		for i := range snap.Collectors {
			c.collector(&snap.Collectors[i], put)
		}
	}
	for channel, r := range c.s.Readings.Latest() {
		if reading.IsSwitch(channel) {
			put(mSwitch, r.Value, channel)
		}
		if !r.Time.IsZero() {
			put(mReadAt, float64(r.Time.UnixMilli())/1000, channel)
		}
	}
	c.people(put)
}

// putter sends one value.
type putter func(m metric, v float64, labels ...string)

func (c scrape) collector(k *watch.Collector, put putter) {
	put(mFan, truth(k.Now.FanOn), k.Name)
	for _, x := range k.Sensors {
		put(mUp, truth(x.Fault == ""), x.Channel)
		if _, sensor := c.s.Shop.SensorOf(x.Channel); sensor != nil {
			m, v := measured(sensor.Measures, x.Value)
			put(m, v, x.Channel)
		}
	}
	both := func(m, se metric, v estimate.Value) {
		put(m, v.V, k.Name)
		put(se, v.SE, k.Name)
	}
	both(mFlow, mFlowSE, k.Now.Flow)
	both(mFilter, mFilterSE, k.Now.Filter)
	both(mLeak, mLeakSE, k.Now.Leakage)
	for _, m := range k.Now.Machines {
		if m.Open {
			put(mMachine, m.Flow.V, k.Name, m.Machine)
		}
		put(mNeeds, m.Needs, k.Name, m.Machine)
	}
}

// people tells of alarms and of letters.
func (c scrape) people(put putter) {
	for _, a := range c.s.Alarms.List() {
		if a.Standing() {
			put(mAlarm, truth(a.Active()), a.Cause, string(a.Priority), yesNo(a.AckedBy != ""), yesNo(a.Held()))
		}
	}
	if c.s.Delivery == nil {
		return
	}
	for _, t := range c.s.Delivery.Status() {
		put(mWaiting, float64(t.Waiting), t.Target)
		put(mFailures, float64(t.Failures), t.Target)
		if !t.Last.IsZero() {
			put(mToldAt, float64(t.Last.Unix()), t.Target)
		}
	}
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// measured returns the family of a quantity, and the value in its unit.
func measured(q shop.Quantity, si float64) (metric, float64) {
	switch q {
	case shop.AirTemperature:
		return mTemp, si - 273.15
	case shop.RelativeHumidity:
		return mHumidity, si
	case shop.FanPower:
		return mPower, si
	case shop.FanSpeed:
		return mSpeed, si
	}
	return mPressure, si
}

// metricsHandler answers in OpenMetrics where it is asked for, and else in the older text format.
func (s *server) metricsHandler() http.Handler {
	r := prometheus.NewRegistry()
	r.MustRegister(scrape{s})
	return promhttp.HandlerFor(r, promhttp.HandlerOpts{EnableOpenMetrics: true})
}
