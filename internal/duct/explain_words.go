package duct

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// fittingKind is what fitting i of a run is to the air. A loss that comes first behind a machine is its hood's.
func (m *Model) fittingKind(r *shop.Run, i int) ElementKind {
	switch r.Fittings[i].Kind {
	case shop.Entry:
		return HoodElement
	case shop.Elbow:
		return ElbowElement
	case shop.Contraction:
		return ContractionElement
	case shop.Expansion:
		return ExpansionElement
	case shop.Screen:
		return ScreenElement
	}
	if i == 0 && m.beginsAtMachine(r) {
		return HoodElement
	}
	return FittingElement
}

// beginsAtMachine tells that a run takes in the air of a machine, by itself or as a hose that is moved between some.
func (m *Model) beginsAtMachine(r *shop.Run) bool {
	if r.From.Kind == shop.EndSelector {
		s := m.shop.Selector(r.From.Name)
		return s != nil && s.Hose
	}
	return r.From.Kind == shop.EndMachine
}

// describe says what a fitting is in a run of a diameter (m), without the owner's words for it.
func describe(f shop.Fitting, diameter float64) string {
	switch f.Kind {
	case shop.Elbow:
		return describeElbow(f)
	case shop.Entry:
		switch f.Entry {
		case shop.FlangedEntry:
			return "flanged entry"
		case shop.BellmouthEntry:
			return "bellmouth entry"
		case shop.OrificeEntry:
			return fmt.Sprintf("entry through an opening of %s", millimetres(f.Bore))
		}
		return "plain entry"
	case shop.Contraction:
		return "contraction " + describeCone(f.LargeDiameter, diameter, f.Angle)
	case shop.Expansion:
		return "expansion " + describeCone(diameter, f.LargeDiameter, f.Angle)
	case shop.Screen:
		return fmt.Sprintf("screen, %.0f %% free", 100*f.FreeArea)
	case shop.FixedLoss:
		return "stated loss"
	case shop.MeasuredLoss:
		return "measured loss"
	}
	return "fitting"
}

func describeElbow(f shop.Fitting) string {
	text := describeBend(f)
	if f.Pair != shop.NoPair {
		text += fmt.Sprintf(", %.3g D behind another", f.Spacing)
	}
	return text
}

func describeBend(f shop.Fitting) string {
	turn := "elbow " + degrees(f.Angle)
	ratio := f.RadiusRatio
	if !(ratio > 0) {
		ratio = usualRadiusRatio
	}
	switch f.Make {
	case shop.MitredElbow:
		return turn + ", mitred"
	case shop.HoseElbow:
		return fmt.Sprintf("bend %s of the hose, r/D %.3g", degrees(f.Angle), ratio)
	case shop.GoredElbow:
		pieces := f.Pieces
		if pieces <= 0 {
			pieces = usualPieces
		}
		return fmt.Sprintf("%s, gored in %d, r/D %.3g", turn, pieces, ratio)
	}
	return fmt.Sprintf("%s, smooth, r/D %.3g", turn, ratio)
}

func describeCone(from, to, angle float64) string {
	way := fmt.Sprintf("%s to %s", millimetres(from), millimetres(to))
	if coneAngle(angle) >= math.Pi {
		return way + ", abrupt"
	}
	return way + ", cone " + degrees(angle)
}

// describeStraight says what a run is without its fittings.
func describeStraight(r *shop.Run) string {
	material := r.Material
	if material == "" {
		material = "duct"
	}
	text := fmt.Sprintf("%.3g m of %s, %s", r.Length, material, millimetres(r.Diameter))
	switch {
	case r.Pulled > 0:
		text += fmt.Sprintf(", pulled to %.0f %%", 100*r.Pulled)
	case r.Stretch > 1:
		text += fmt.Sprintf(", stretch %.3g", r.Stretch)
	}
	return text
}

// describeGate says what stands in the way of the air when a gate is open.
func describeGate(g *shop.Gate) string {
	text := "open gate"
	switch g.Kind {
	case shop.Framed:
		text = fmt.Sprintf("open gate, %s in its frame", millimetres(g.Bore))
	case shop.Butterfly:
		text = "open butterfly"
	}
	if g.Opens > 0 && g.Opens < 1 {
		text += fmt.Sprintf(", by %.0f %%", 100*g.Opens)
	}
	return text
}

// describeJunction says what a junction is to the leg by which the air comes in.
func describeJunction(j *shop.Junction, straight bool) string {
	name := "wye " + degrees(j.Angle)
	if j.Angle > 0.999*math.Pi/2 {
		name = "tee"
	}
	switch {
	case j.Kind == shop.Splitter:
		return fmt.Sprintf("splitter, legs at %s", degrees(j.Angle))
	case straight:
		return name + ", straight on"
	case j.Swept > 0:
		return name + ", from the swept branch"
	}
	return name + ", from the branch"
}

func degrees(angle float64) string { return fmt.Sprintf("%.3g°", angle*180/math.Pi) }

func millimetres(length float64) string { return fmt.Sprintf("%.0f mm", length*1000) }
