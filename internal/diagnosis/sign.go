package diagnosis

import "strings"

// Sign is where a reading goes.
type Sign string

// The signs. The empty one claims nothing.
const (
	Up   Sign = "up"
	Down Sign = "down"
	Same Sign = "same" // by less than a gauge in a shop can tell
)

// Signs say how a cause shows at the sensors, with the same gates open as before.
type Signs struct {
	Suction  Sign `json:"trunk_suction,omitempty"`
	Velocity Sign `json:"velocity_pressure,omitempty"`
	Filter   Sign `json:"filter_drop,omitempty"`
	Upstream Sign `json:"suction_over_velocity_pressure,omitempty"`
	Far      Sign `json:"far_suction,omitempty"`
	Power    Sign `json:"fan_power,omitempty"`
}

// String says the signs in words, empty where nothing is claimed.
func (s Signs) String() string {
	var words []string
	for _, c := range []struct {
		what string
		sign Sign
	}{
		{"suction at the trunk", s.Suction}, {"velocity pressure", s.Velocity}, {"filter drop", s.Filter},
		{"suction over velocity pressure", s.Upstream}, {"suction at the far end", s.Far}, {"fan power", s.Power},
	} {
		switch c.sign {
		case Up, Down:
			words = append(words, c.what+" "+string(c.sign))
		case Same:
			words = append(words, c.what+" as before")
		}
	}
	return strings.Join(words, ", ")
}

// The patterns by which troubles part, in the order of the fields of Signs.
var (
	loads   = Signs{Down, Down, Up, Same, Down, Down} // more resistance in the filter
	passes  = Signs{Up, Up, Down, Same, Up, Up}       // less of it
	draws   = Signs{Down, Down, Up, Same, Down, Up}   // air that enters between tap and fan
	opens   = Signs{Down, Up, Up, Down, Down, Up}     // air that enters before the tap
	resists = Signs{Up, Down, Down, Up, Up, Down}     // a drop that lets less through
	chokes  = Signs{Up, Down, Down, Up, Down, Down}   // the trunk between its far end and the tap
	weakens = Signs{Down, Down, Down, Same, Down, Down}

	// A fan that turns the wrong way weakens everything. Its power may go either way, and at half the air friction is another one.
	reverses = Signs{Down, Down, Down, "", Down, ""}
)
