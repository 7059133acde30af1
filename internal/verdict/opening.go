package verdict

import (
	"fmt"
	"strings"

	"ductward/internal/shop"
)

// Opening is the setting in which these machines are joined to the collector: the gates on their ways open, selectors
// and hoses turned to them, everything else shut but what is always open. It is an error where two of them want the
// same selector or hose, where a gate on the way is always shut, and where the collector has no such machine.
func Opening(c *shop.Collector, machines ...string) (shop.Setting, error) {
	for _, m := range machines {
		if c.Machine(m) == nil {
			return shop.Setting{}, fmt.Errorf("collector %q has no machine %q; it has %s", c.Name, m, strings.Join(machineNames(c), ", "))
		}
	}
	return c.SettingFor(machines)
}

func machineNames(c *shop.Collector) []string {
	var names []string
	for _, m := range c.Machines {
		names = append(names, m.Name)
	}
	return names
}
