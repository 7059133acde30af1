package shop

// ChannelOf names the channel of a sensor: "COLLECTOR/SENSOR".
func (c *Collector) ChannelOf(sensor string) string { return c.Name + "/" + sensor }

// FanChannel names the channel that tells whether the collector's fan runs: "COLLECTOR/fan".
func (c *Collector) FanChannel() string { return c.Name + "/fan" }

// GateChannel names the channel of a gate's position: "gate/NAME".
func GateChannel(gate string) string { return "gate/" + gate }

// SelectorChannel names the channel of a selector's position: "selector/NAME".
func SelectorChannel(selector string) string { return "selector/" + selector }

// SensorOf finds the sensor of a channel, nil if the channel is a switch or not known.
func (s *Shop) SensorOf(channel string) (*Collector, *Sensor) {
	for _, c := range s.Collectors {
		for _, n := range c.Sensors {
			if c.ChannelOf(n.Name) == channel {
				return c, n
			}
		}
	}
	return nil, nil
}

// Channels lists every channel of the shop in the order of the file: for each collector its sensors, its fan, its
// gates, its selectors and its contacts.
func (s *Shop) Channels() []string {
	var all []string
	for _, c := range s.Collectors {
		for _, n := range c.Sensors {
			all = append(all, c.ChannelOf(n.Name))
		}
		all = append(all, c.FanChannel())
		for _, g := range c.Gates {
			all = append(all, GateChannel(g.Name))
		}
		for _, n := range c.Selectors {
			all = append(all, SelectorChannel(n.Name))
		}
		for _, n := range c.Contacts {
			all = append(all, ContactChannel(n.Name))
		}
	}
	return all
}
