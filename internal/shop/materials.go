package shop

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
	{Name: "galvanised short joints", Roughness: 0.15e-3, Source: ashrae + ", older editions: galvanised steel, longitudinal seams, joints every 0.76 m, category average 0.0005 ft = 0.15 mm, from memory; the value for which the common friction charts are drawn"},
	{Name: "aluminium", Roughness: 0.046e-3, Source: ashrae + ": aluminium, category medium smooth 0.00015 ft = 0.046 mm, from memory"},
	{Name: "stainless steel", Roughness: 0.046e-3, Source: ashrae + ": stainless steel, category medium smooth 0.00015 ft = 0.046 mm, from memory"},
	{Name: "concrete", Roughness: 0.9e-3, Source: ashrae + ": concrete, continuous to rough, category medium rough 0.003 ft = 0.9 mm (range 0.3 to 3 mm), from memory"},
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
