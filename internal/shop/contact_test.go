package shop

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestContactsAndWeights(t *testing.T) {
	data, err := os.ReadFile(goodShops + "/hand-gates.yaml")
	require.NoError(t, err)
	text := strings.Replace(string(data), "    sensors:\n", `    contacts:
      - {contact: bin level, tells: bin full, from: {gpio: GPIO22, active: low}}
      - {contact: return dust, tells: dust in return, was: [dust lamp], from: {i2c: 1, chip: ads1115, address: 0x48, input: 3, signal: 4-20 mA, burden: 150 ohm, on_above: 30 %}}
    sensors:
      - {sensor: bin, measures: bin weight, full: 132 lb, from: {i2c: 1, chip: ads1115, address: 0x48, input: 2, signal: 0-10 V, divider: 3, low: 0 kg, high: 200 kg}}
`, 1)
	s, problems := Parse("shop.yaml", []byte(text))
	require.Empty(t, problems)
	c := s.Collectors[0]
	require.Len(t, c.Contacts, 2)
	level, dust := c.Contacts[0], c.Contacts[1]
	require.Equal(t, BinFull, level.Tells)
	require.Equal(t, &Source{Kind: SourceGPIO, Pin: "GPIO22", ActiveLow: true, Debounce: 50 * time.Millisecond, Line: level.From.Line}, level.From)
	require.Equal(t, DustInReturn, dust.Tells)
	require.Equal(t, "dust in return", dust.Tells.String())
	require.InDelta(t, 0.3, dust.From.OnAbove, 1e-12)
	require.Equal(t, []string{"dust lamp"}, dust.Was)
	require.InDelta(t, 59.874, c.Sensor("bin").Full, 0.001, "132 lb in kg")
	require.InDelta(t, 200, c.Sensor("bin").From.High, 1e-12, "kg")
	require.Equal(t, "kg", BinWeight.Unit())
	require.Subset(t, s.Channels(), []string{"contact/bin level", "contact/return dust", c.Name + "/bin"})
}

func TestASwitchForEachPort(t *testing.T) {
	data, err := os.ReadFile(goodShops + "/hand-gates.yaml")
	require.NoError(t, err)
	with := func(pins string) (*Shop, []Problem) {
		return Parse("shop.yaml", []byte(strings.Replace(string(data), "grinder], position: by hand", "grinder], position: {gpio: "+pins+"}", 1)))
	}
	s, problems := with("[GPIO7, GPIO8]")
	require.Empty(t, problems)
	require.Equal(t, []string{"GPIO7", "GPIO8"}, s.Collectors[0].Selectors[0].Position.Pins)
	_, problems = with("[GPIO7, GPIO8, GPIO9]")
	require.Len(t, problems, 1)
	require.Contains(t, problems[0].Error(), "position has 3 pins, and there are 2 ports")
	_, problems = with("GPIO7")
	require.Len(t, problems, 1)
	require.Contains(t, problems[0].Error(), "cannot come from one pin")
}
