package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/shop"
)

// What stands in the shop file is told back in the words of the trade.
func TestWordsOfElements(t *testing.T) {
	elbow := func(f shop.Fitting) shop.Fitting { f.Kind = shop.Elbow; return f }
	rows := []struct {
		f    shop.Fitting
		want string
	}{
		{elbow(shop.Fitting{Angle: rad(90), RadiusRatio: 1.5}), "elbow 90°, smooth, r/D 1.5"},
		{elbow(shop.Fitting{Angle: rad(45), RadiusRatio: 1, Make: shop.GoredElbow, Pieces: 3}), "elbow 45°, gored in 3, r/D 1"},
		{elbow(shop.Fitting{Angle: rad(90), RadiusRatio: math.NaN(), Make: shop.MitredElbow}), "elbow 90°, mitred"},
		{elbow(shop.Fitting{Angle: rad(90), RadiusRatio: 2, Make: shop.HoseElbow}), "bend 90° of the hose, r/D 2"},
		{elbow(shop.Fitting{Angle: rad(30), RadiusRatio: 1.5, Pair: shop.Back, Spacing: 2}), "elbow 30°, smooth, r/D 1.5, 2 D behind another"},
		{shop.Fitting{Kind: shop.Entry, Entry: shop.FlangedEntry}, "flanged entry"},
		{shop.Fitting{Kind: shop.Entry, Entry: shop.BellmouthEntry}, "bellmouth entry"},
		{shop.Fitting{Kind: shop.Entry}, "plain entry"},
		{shop.Fitting{Kind: shop.Contraction, LargeDiameter: 0.2, Angle: rad(30)}, "contraction 200 mm to 120 mm, cone 30°"},
		{shop.Fitting{Kind: shop.Expansion, LargeDiameter: 0.2, Angle: math.NaN()}, "expansion 120 mm to 200 mm, abrupt"},
		{shop.Fitting{Kind: shop.Screen, FreeArea: 0.7}, "screen, 70 % free"},
		{shop.Fitting{Kind: shop.FixedLoss}, "stated loss"},
		{shop.Fitting{Kind: shop.MeasuredLoss}, "measured loss"},
	}
	for _, r := range rows {
		assert.Equal(t, r.want, describe(r.f, 0.12))
	}
	assert.Equal(t, "3 m of flexible hose, 120 mm, stretch 1.3", describeStraight(&shop.Run{Length: 3, Material: "flexible hose", Diameter: 0.12, Stretch: 1.3}))
	assert.Equal(t, "3 m of flexible hose, 120 mm, pulled to 85 %", describeStraight(&shop.Run{Length: 3, Material: "flexible hose", Diameter: 0.12, Pulled: 0.85}))
	assert.Equal(t, "2.5 m of duct, 120 mm", describeStraight(&shop.Run{Length: 2.5, Diameter: 0.12, Stretch: 1}))
	assert.Equal(t, "open gate", describeGate(&shop.Gate{}))
	assert.Equal(t, "open gate, 110 mm in its frame", describeGate(&shop.Gate{Kind: shop.Framed, Bore: 0.11}))
	assert.Equal(t, "open butterfly", describeGate(&shop.Gate{Kind: shop.Butterfly}))
	assert.Equal(t, "open gate, by 80 %", describeGate(&shop.Gate{Opens: 0.8}))
	assert.Equal(t, "wye 45°, straight on", describeJunction(&shop.Junction{Kind: shop.Wye, Angle: rad(45)}, true))
	assert.Equal(t, "wye 30°, from the branch", describeJunction(&shop.Junction{Kind: shop.Wye, Angle: rad(30)}, false))
	assert.Equal(t, "tee, from the swept branch", describeJunction(&shop.Junction{Kind: shop.Wye, Angle: rad(90), Swept: 0.2}, false))
	assert.Equal(t, "splitter, legs at 30°", describeJunction(&shop.Junction{Kind: shop.Splitter, Angle: rad(30)}, false))
}
