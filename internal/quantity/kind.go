package quantity

// Kind says what sort of quantity a number is.
type Kind int

// The kinds, with their SI unit.
const (
	Length      Kind = iota // m
	Area                    // m²
	Volume                  // m³
	Flow                    // m³/s
	Pressure                // Pa
	Temperature             // K
	Velocity                // m/s
	Density                 // kg/m³
	Duration                // s
	Angle                   // rad
	Ratio                   // 1; written in per cent
	Humidity                // relative humidity, 0..1; written in per cent
	Power                   // W
	Frequency               // Hz: revolutions per second of a fan
	Seepage                 // m³/s per m² of duct surface: what a seam lets through
	Resistance              // Ω
	Mass                    // kg
)

// describe holds how a kind is spoken of in messages.
type describe struct {
	name    string // with its article
	example string
}

var kinds = [...]describe{
	Length:      {"a length", "160 mm"},
	Area:        {"an area", "24 m2"},
	Volume:      {"a volume", "200 l"},
	Flow:        {"a flow", "850 m3/h"},
	Pressure:    {"a pressure", "1.2 kPa"},
	Temperature: {"a temperature", "20 degC"},
	Velocity:    {"a velocity", "20 m/s"},
	Density:     {"a density", "1.2 kg/m3"},
	Duration:    {"a time", "30 s"},
	Angle:       {"an angle", "45 deg"},
	Ratio:       {"a share", "60 %"},
	Humidity:    {"a relative humidity", "50 %"},
	Power:       {"a power", "5.5 kW"},
	Frequency:   {"a speed of rotation", "2900 rpm"},
	Seepage:     {"a leakage of duct surface", "2 l/s/m2"},
	Resistance:  {"an electrical resistance", "150 ohm"},
	Mass:        {"a mass", "60 kg"},
}

// String names the kind with its article, as in "a length".
func (k Kind) String() string {
	if !k.valid() {
		return "an unknown kind of quantity"
	}
	return kinds[k].name
}

// Example is a quantity of this kind as it may be written.
func (k Kind) Example() string {
	if !k.valid() {
		return ""
	}
	return kinds[k].example
}

func (k Kind) valid() bool { return k >= 0 && int(k) < len(kinds) }
