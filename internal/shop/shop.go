package shop

import "time"

// Shop is one workshop: everything that one description file says.
type Shop struct {
	Name       string
	Site       Site
	Collectors []*Collector
	Outbound   Outbound
	Prices     *Prices // what the owner pays for ducts and work; nil: not given
	Buses      []*Bus  // those whose supply can be switched
	Checks     []Check // what is looked at again and again, by people
	Raw        []byte  // the file as it was read; stored whole when the shop is accepted
	Path       string  // where it was read from, for messages
}

// Site is where the shop stands.
type Site struct {
	Altitude    float64        // m above sea level; 0 when not given
	Temperature float64        // K, assumed where no sensor measures it; 293.15 when not given
	Humidity    float64        // relative, 0..1, assumed where no sensor measures it; 0.5 when not given
	Location    *time.Location // for labels on screens only; UTC when not given
	Units       string         // for screens only: Metric or InchPound; Metric when not given
}

// The systems of units in which screens show numbers.
const (
	Metric    = "metric"
	InchPound = "inch-pound"
)

// Collector is one fan with its separator, filter, ducts and sensors.
type Collector struct {
	Name      string
	Was       []string // earlier names
	Fan       Fan
	Separator *Separator // nil: none
	Filter    Filter
	Discharge *Discharge // nil: the fan blows freely into the room
	Network   *Network   // nil: no drawing was given
	Gates     []*Gate
	Selectors []*Selector
	Machines  []*Machine
	Sensors   []*Sensor
	Contacts  []*Contact
	FanSwitch *Source // what tells that the fan runs; nil: told from the trunk's suction
	Rating    float64 // Pa, the largest suction (positive) that the ducts are rated to bear; NaN: not known
	Transport float64 // m/s, the velocity below which dust may settle; 20 when not given
	Alarms    AlarmSettings
	Line      int
}

// FanPosition says whether the fan sits on the clean or on the dirty side of the filter.
type FanPosition int

// The two places a fan can have.
const (
	FanAfterFilter  FanPosition = iota // clean side: the filter is under suction
	FanBeforeFilter                    // dirty side: the filter is under pressure
)

// CurvePoint is one point of a fan curve.
type CurvePoint struct {
	Flow     float64 // m³/s
	Pressure float64 // Pa, total pressure rise
	Power    float64 // W at the shaft; NaN: not given

	Efficiency float64 // air power over shaft power, 0..1; 0: not given
}

// Interpolation says how a fan curve runs between its points.
type Interpolation int

// The interpolations that a fan curve may ask for.
const (
	StraightLines Interpolation = iota
	Smooth                      // shape-preserving (Fritsch and Butland 1984)
)

// Fan is the fan's curve with the density and speed at which it holds. Either Points or Coefficients is given.
type Fan struct {
	Position     FanPosition
	Points       []CurvePoint // by rising flow
	Between      Interpolation
	Coefficients []float64 // p = Σ c[i]·Q^i in Pa and m³/s
	Density      float64   // kg/m³ at which the curve holds; 1.2 when not given
	Speed        float64   // Hz (revolutions per second) at which the curve holds; NaN: not given
	Humped       bool      // the curve rises left of its peak; the working point there may be ambiguous
	Running      float64   // speed at which the fan runs over that of the curve; 0 for 1
	Efficiency   float64   // air power over shaft power wherever the fan works, 0..1; 0: the points tell, or nobody
	Motor        float64   // shaft power over the electrical power of motor and drive, 0..1; 0: not given
	Inlet        *FanInlet // nil: the air comes straight in
	Line         int
}

// RunningRatio is the speed at which the fan runs over that of its curve.
func (f *Fan) RunningRatio() float64 {
	if f.Running > 0 {
		return f.Running
	}
	return 1
}

// FanInlet is what spoils the flow into the fan, as a loss of the fan's rise on the velocity pressure there.
type FanInlet struct {
	Diameter    float64   // m, where the air enters the fan
	Coefficient float64   // stated; NaN: it follows from the elbow
	Make        ElbowMake // of the elbow; a square one where Square is set
	Square      bool
	RadiusRatio float64 // centre-line radius over diameter; NaN for a mitred one
	Pieces      int     // of a gored elbow
	Straight    float64 // straight duct between elbow and fan, in diameters
	Line        int
}

// Separator is a cyclone or drop-out box: its loss goes with density times the square of the flow.
type Separator struct {
	Name    string
	Loss    float64 // Pa at Flow and Density
	Flow    float64 // m³/s
	Density float64 // kg/m³; 1.2 when not given
}

// Filter is the collector's filter, mostly viscous: Δp ≈ R·Q·(μ/μ₀), plus a small housing part in ρQ².
type Filter struct {
	Area        float64 // m² of media; NaN: not given
	CleanDrop   float64 // Pa, just cleaned, at CleanFlow
	CleanFlow   float64 // m³/s
	HousingLoss float64 // Pa at CleanFlow of the part that goes with ρQ²; 0 when not given
	Limit       float64 // Pa, the drop at which it must be cleaned
	LimitFlow   float64 // m³/s at which Limit is meant; NaN: at whatever flow there is
	Line        int
}

// Discharge is what the fan blows through: a stack, a silencer, a return duct.
type Discharge struct {
	Diameter  float64 // m
	Length    float64 // m
	Roughness float64 // m
	Loss      float64 // loss coefficient on its own velocity pressure, the exit to the room included
}

// AlarmSettings are the owner's choices about what is told and when.
type AlarmSettings struct {
	ReferenceSuction   float64       // Pa at which leaks are told; 1500 when not given
	FalseAlarmsPerYear float64       // promised for the whole family of alarms; 1 when not given
	FilterNotice       time.Duration // how long before the due date a filter is told; 10 days when not given
	LeakToTell         float64       // m³/s at the reference suction below which a leak stays a journal line; 0 when not given
}
