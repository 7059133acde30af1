package shop

import "time"

// Quantity says what a sensor measures.
type Quantity int

// What a sensor can measure.
const (
	FilterDrop         Quantity = iota // Pa, dirty minus clean
	StaticPressure                     // Pa gauge, suction negative
	VelocityPressure                   // Pa
	AirTemperature                     // K
	BarometricPressure                 // Pa absolute
	RelativeHumidity                   // 0..1
	FanPower                           // W
	FanSpeed                           // Hz
	SeparatorDrop                      // Pa
	BinWeight                          // kg, of what is in the bin
)

// TapEnd says at which end of its run a tap sits.
type TapEnd int

// The two ends of a run.
const (
	AtEnd   TapEnd = iota // towards the collector
	AtStart               // towards the machine
)

// Sensor is one measured channel. Its channel name is "COLLECTOR/SENSOR".
type Sensor struct {
	Name     string
	Was      []string
	Measures Quantity
	Run      string // the run that the tap sits in; "" for filter drop and ambient values; "inlet" is the collector's inlet, "fan" the fan's
	TapAt    TapEnd
	Diameter float64 // m of the duct at the tap, where there is no drawing and velocity pressure is measured
	From     Source
	Interval time.Duration // between samples; 1 s when not given
	Full     float64       // kg, of a BinWeight: at which the bin is full
	Line     int
}

// SourceKind says where a value comes from.
type SourceKind int

// The kinds of source.
const (
	SourceI2C SourceKind = iota
	SourceGPIO
	SourceMQTT
	SourceByHand // set on the dashboard or by an entry in the readings
	SourceModbus
	SourceFixed // never moves: Fixed says how it stands
)

// Signal is what a transmitter sends.
type Signal int

// The signals.
const (
	Current Signal = iota // 4 to 20 mA
	Volts10               // 0 to 10 V
	Volts5                // 0 to 5 V
)

// Source says where a value comes from. Which fields count depends on Kind.
type Source struct {
	Kind SourceKind

	// SourceI2C
	Chip     string // "sdp8xx", "abp2", …
	Bus      string // as periph names it: "1" or "/dev/i2c-1"
	Address  uint16
	Mux      uint16  // address of the multiplexer that the chip is behind; 0: none
	Port     int     // of the multiplexer
	Span     float64 // Pa, the part's full scale, where the family has several; a two-sided part spans -Span..Span
	OneSided bool    // the part measures 0..Span
	Swapped  bool    // the tubes are the other way round: the sign is turned

	// SourceI2C, where the chip is a converter that reads the signal of a transmitter or a clamp
	Input   int     // of the converter
	Signal  Signal  // that the transmitter sends
	Burden  float64 // Ω over which a current is read
	Divider float64 // the signal's voltage over that at the converter; 1 when not given
	Low     float64 // SI: what is measured at the low end of the signal
	High    float64 // and at its high end
	OnAbove float64 // share of the signal above which a fan runs, or a contact counts as closed

	// SourceGPIO
	Pin       string        // as periph names it: "GPIO17"
	Pins      []string      // of a selector's position switches, in the order of its ports; Pin is then ""
	ShutPin   string        // of a second contact, at the shut end of a gate; Pin is then that at its open end
	ActiveLow bool          // the switch pulls the pin low when the gate is open or the fan runs
	Debounce  time.Duration // 50 ms when not given

	// SourceModbus; Unit counts as well
	URL      string // rtu:///dev/ttyUSB0 or tcp://HOST:PORT
	Station  uint8
	Table    RegisterTable
	Register uint16
	Format   RegisterFormat
	LowFirst bool    // the lower half of 32 bits comes first
	Factor   float64 // on the number, which is then in Unit
	Baud     uint    // of a serial line
	Parity   int     // of a serial line: 0 even, 1 odd, 2 none

	// SourceMQTT
	Topic string
	Field string        // key of a JSON object; "" for a plain number or SenML
	Unit  string        // of the number that arrives
	Stale time.Duration // a value older than this is no value; 30 s when not given

	// SourceFixed
	Fixed bool

	Line int
}
