package shop

import "fmt"

// Material is a kind of duct wall with its absolute roughness.
type Material struct {
	Name      string
	Roughness float64 // m
	Flexible  bool
	Source    string
}

const ashrae = "ASHRAE Handbook Fundamentals, chapter Duct Design, table of duct roughness factors"

// Materials lists what a duct may be made of. Roughness is a category with a range, never one number: where the table
// prints a category, that is taken, otherwise its range is told in Source. A maker's own figure goes into the file as
// roughness.
var Materials = []Material{
	{Name: "galvanised", Roughness: 0.09e-3, Source: ashrae + ": galvanised steel, round, longitudinal seams, category 0.09 mm (range 0.05 to 0.10 mm)"},
	{Name: "galvanised spiral", Roughness: 0.09e-3, Source: ashrae + ": galvanised steel, spiral seams, range 0.06 to 0.12 mm; its middle"},
	{Name: "pvc", Roughness: 0.046e-3, Source: ashrae + ": PVC, category medium smooth 0.00015 ft = 0.046 mm (range 0.01 to 0.05 mm)"},
	{Name: "steel welded", Roughness: 0.046e-3, Source: ashrae + ": uncoated carbon steel, category medium smooth 0.00015 ft = 0.046 mm, from memory"},
	{Name: "flexible hose", Roughness: 0.9e-3, Flexible: true, Source: ashrae + ": flexible duct, fully extended, category medium rough 0.003 ft = 0.9 mm (range 0.09 to 0.9 mm)"},
	{Name: "smooth-bore hose", Roughness: 0.3e-3, Flexible: true, Source: "within the range 0.09 to 0.9 mm that " + ashrae + " gives for flexible duct; common practice, no source"},
}

const defaultMaterial = "galvanised spiral"

func materialNames() []string {
	names := make([]string, len(Materials))
	for i, m := range Materials {
		names[i] = m.Name
	}
	return names
}

// wall reads material and roughness. A stated roughness goes before that of the material.
func (o *object) wall(otherwise string) (rough float64, material string, flexible bool) {
	material = otherwise
	stated := o.quantity("roughness", roughness, -1)
	if i := o.oneOf("material", materialNames()); i >= 0 {
		material = Materials[i].Name
	} else if stated >= 0 {
		return stated, "", false
	}
	for _, m := range Materials {
		if m.Name == material {
			rough, flexible = m.Roughness, m.Flexible
		}
	}
	if stated >= 0 {
		rough = stated
	}
	return rough, material, flexible
}

// Class is a class of duct tightness: Q = C·A·Δp^0.65.
type Class struct {
	Name string
	C    float64 // m³/s per m² at 1 Pa
}

// Classes are the tightness classes of EN 12237 (round metal ducts): the largest leakage that a duct of the class may
// have is 0.027, 0.009, 0.003 and 0.001 l/s per m² times Δp^0.65.
var Classes = []Class{{"A", 0.027e-3}, {"B", 0.009e-3}, {"C", 0.003e-3}, {"D", 0.001e-3}}

// leakExponent is that of EN 12237 and of the SMACNA leakage classes.
const leakExponent = 0.65

func classNames() []string {
	names := make([]string, 0, len(Classes)+2)
	for _, c := range Classes {
		names = append(names, c.Name)
	}
	return append(names, "CL 12", "none")
}

// tightness reads the leakage class of a run's seams under the key. Absent, it is otherwise.
func (o *object) tightness(otherwise Leakage) Leakage {
	v := o.get("tightness")
	switch {
	case v == nil:
		return otherwise
	case v.shape == mapping:
		return o.statedLeakage(v)
	case v.shape != scalar:
		o.wrong(v, fmt.Sprintf("tightness is %s", v), "write a class: "+quoted(classNames()))
		return otherwise
	case v.text == "none":
		return Leakage{Class: "none", N: leakExponent}
	}
	for _, c := range Classes {
		if c.Name == v.text {
			return Leakage{Class: c.Name, C: c.C, N: leakExponent}
		}
	}
	if l, ok := smacna(v.text); ok {
		return l
	}
	o.wrong(v, fmt.Sprintf("tightness %s is not known", shown(v.text)), "write a class of EN 12237 (A to D), one of SMACNA such as \"CL 12\", \"none\", or {leak: 2 l/s/m2, at: 1 kPa}")
	return otherwise
}
