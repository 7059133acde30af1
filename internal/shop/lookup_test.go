package shop

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func runNames(runs []*Run) (out []string) {
	for _, r := range runs {
		out = append(out, r.Name)
	}
	return out
}

func TestPathOf(t *testing.T) {
	c := load(t, demoShop).Collectors[0]
	require.Equal(t, []string{"sander hose", "sander drop", "trunk 9", "trunk 10"}, runNames(c.PathOf("edge sander")))
	require.Equal(t, []string{"moulder hose line", "moulder drop", "trunk 4"}, runNames(c.PathOf("tenoner"))[:3])
	require.Nil(t, c.PathOf("lathe"))
	ring := load(t, goodShops+"/ring-main.yaml").Collectors[0]
	require.Equal(t, []string{"lathe line", "corner line", "far east", "near east", "riser"}, runNames(ring.PathOf("lathe")), "the first of two equal ways")
}

func TestMachineGates(t *testing.T) {
	c := load(t, demoShop).Collectors[0]
	require.Equal(t, []string{"moulder gate"}, c.MachineGates("spindle moulder"))
	require.Nil(t, c.MachineGates("lathe"))
	hand := load(t, goodShops+"/hand-gates.yaml").Collectors[0]
	require.Equal(t, []string{"band saw"}, hand.MachineGates("band saw"), "without a drawing by name")
	require.Nil(t, hand.MachineGates("grinder"))
}

func TestSettingFor(t *testing.T) {
	c := load(t, demoShop).Collectors[0]
	ring := load(t, goodShops+"/ring-main.yaml").Collectors[0]
	hand := load(t, goodShops+"/hand-gates.yaml").Collectors[0]
	rows := []struct {
		name string
		c    *Collector
		ask  []string
		want Setting
	}{
		{"nothing", c, nil, Setting{map[string]bool{}, map[string]int{}}},
		{"a machine", c, []string{"bench saw"}, Setting{map[string]bool{"bench saw gate": true}, map[string]int{}}},
		{"a gate and a machine on a hose", c, []string{"sander gate", " tenoner "}, Setting{map[string]bool{"sander gate": true, "moulder gate": true}, map[string]int{"moulder hose": 2}}},
		{"a port by name", c, []string{"moulder hose=spindle moulder"}, Setting{map[string]bool{}, map[string]int{"moulder hose": 1}}},
		{"a port by number", c, []string{"moulder hose=2"}, Setting{map[string]bool{}, map[string]int{"moulder hose": 2}}},
		{"no port", c, []string{"moulder hose=none"}, Setting{map[string]bool{}, map[string]int{"moulder hose": 0}}},
		{"a gate that is always open", ring, []string{"lathe"}, Setting{map[string]bool{"corner gate": true}, map[string]int{"corner flap": 1}}},
		{"a machine behind a switch-over piece", ring, []string{"floor sweep"}, Setting{map[string]bool{"corner gate": true}, map[string]int{"corner flap": 2}}},
		{"no drawing", hand, []string{"band saw", "grinder"}, Setting{map[string]bool{"band saw": true}, map[string]int{"sander hose": 2}}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			got, err := row.c.SettingFor(row.ask)
			require.NoError(t, err)
			require.Equal(t, row.want, got)
		})
	}
}

func TestSettingForTellsWhatThereIs(t *testing.T) {
	c := load(t, demoShop).Collectors[0]
	rows := []struct {
		ask  []string
		want string
	}{
		{[]string{"bnech saw"}, `collector "main" has no gate or machine "bnech saw"; did you mean "bench saw"?`},
		{[]string{"moulder hose=lathe"}, `selector "moulder hose" has no port "lathe"; write one of "spindle moulder", "tenoner", or a number from 0 to 2`},
		{[]string{"moulder hose=3"}, `selector "moulder hose" has no port "3"; write one of "spindle moulder", "tenoner", or a number from 0 to 2`},
		{[]string{"moulder hos=1"}, `collector "main" has no selector "moulder hos"; did you mean "moulder hose"?`},
		{[]string{"tenoner", "spindle moulder"}, `selector "moulder hose" cannot stand at "tenoner" and at "spindle moulder" at once; name one of them`},
		{[]string{"xyzzy", "mortisr"}, "collector \"main\" has no gate or machine \"xyzzy\"; write one of \"thicknesser\", \"surface planer\", \"spindle moulder\", \"tenoner\", \"band saw\", \"mortiser\", \"crosscut saw\", \"bench saw\", \"edge sander\", \"thicknesser gate\", \"planer gate\", \"moulder gate\", … (19 in all)\ncollector \"main\" has no gate or machine \"mortisr\"; did you mean \"mortiser\"?"},
	}
	for _, row := range rows {
		_, err := c.SettingFor(row.ask)
		require.EqualError(t, err, row.want)
	}
}

func TestChannels(t *testing.T) {
	s := load(t, goodShops+"/hand-gates.yaml")
	require.Equal(t, []string{"main/filter drop", "main/trunk static", "main/trunk velocity", "main/room humidity", "main/fan",
		"gate/lathe", "gate/band saw", "selector/sander hose"}, s.Channels())
	c, sensor := s.SensorOf("main/trunk static")
	require.Equal(t, "main", c.Name)
	require.Equal(t, StaticPressure, sensor.Measures)
	require.Equal(t, "Pa", sensor.Measures.Unit())
	_, sensor = s.SensorOf("main/fan")
	require.Nil(t, sensor)
}
