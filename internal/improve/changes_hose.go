package improve

import (
	"fmt"
	"slices"

	"ductward/internal/shop"
)

// usualPipe is what hose is replaced by where the drawing has no rigid pipe of a named material.
const usualPipe = "galvanised spiral"

// hosesToPipe replaces each hose by smooth pipe, but for those that are moved from machine to machine.
func hosesToPipe(c *shop.Collector) []change {
	var out []change
	wall := commonWall(c)
	for _, r := range c.Network.Runs {
		if !r.Flexible || movedHose(c, r) {
			continue
		}
		name := r.Name
		out = append(out, change{
			kind: HoseToPipe, place: "hose " + name,
			text:    fmt.Sprintf("replace the %s of %s in %s by smooth pipe", metres(r.Length), hoseWord(r), name),
			assumes: []string{"the machine stands still, so that a cuff is all that must give", "its bends become smooth elbows of 1.5 diameters"},
			draw: func(d *draft) {
				run := d.Run(name)
				d.renew(name)
				run.Flexible, run.Stretch, run.Pulled = false, 1, 0
				run.Material, run.Roughness = wall.Name, wall.Roughness
				for i := range run.Fittings {
					if f := &run.Fittings[i]; f.Kind == shop.Elbow {
						*f = easyElbow(*f, run.Diameter, f.Angle)
						d.bought.add(elbow, run.Diameter, 1)
					}
				}
				d.bought.add(pipe, run.Diameter, run.Length)
			},
		})
	}
	return out
}

// stretchHoses pulls out hose that is pushed together, which costs nothing.
func stretchHoses(c *shop.Collector) []change {
	var out []change
	for _, r := range c.Network.Runs {
		if !r.Flexible || !(r.Stretch > 1 || r.Pulled > 0 && r.Pulled < 1) {
			continue
		}
		name := r.Name
		out = append(out, change{
			kind: StretchHose, place: "hose " + name,
			text:    fmt.Sprintf("pull the hose of %s out straight and cut off what is too much", name),
			assumes: []string{"it still reaches everything that it has to"},
			draw: func(d *draft) {
				run := d.Run(name)
				run.Stretch, run.Pulled = 1, 0
			},
		})
	}
	return out
}

// movedHose tells that a run is the hose of a selector.
func movedHose(c *shop.Collector, r *shop.Run) bool {
	s := c.Selector(r.From.Name)
	return r.From.Kind == shop.EndSelector && s != nil && s.Hose
}

func hoseWord(r *shop.Run) string {
	if r.Material != "" {
		return r.Material
	}
	return "hose"
}

// commonWall is the material of most metres of the drawing's rigid pipe.
func commonWall(c *shop.Collector) shop.Material {
	length := map[string]float64{}
	best := usualPipe
	for _, r := range c.Network.Runs {
		if !r.Flexible && r.Material != "" {
			length[r.Material] += r.Length
			if length[r.Material] > length[best] {
				best = r.Material
			}
		}
	}
	i := slices.IndexFunc(shop.Materials, func(m shop.Material) bool { return m.Name == best })
	return shop.Materials[i]
}
