package draw

// The signs of the key, each at x and on the middle of its first line at y.

func signChannel(k *sheet, x, y float64) {
	at := []point{{x, y + 4}, {x + 34, y + 4}}
	k.stroke(sheetWall, "s-wall", 15, at)
	k.stroke(sheetBore, "s-bore", 12, at)
	k.stroke(sheetAir, "s-air", 8, beside(at, 2))
}

func signOpen(k *sheet, x, y float64) {
	k.ink("d-thin", "M%.1f %.1fh34", x, y)
	k.ink("d-gate", "M%.1f %.1fv5M%.1f %.1fv5", x+17, y-9, x+17, y+4)
}

func signShut(k *sheet, x, y float64) {
	k.ink("d-thin", "M%.1f %.1fh34", x, y)
	k.ink("d-bar", "M%.1f %.1fv18", x+17, y-9)
}

func signDust(k *sheet, x, y float64) {
	at := []point{{x, y + 4}, {x + 34, y + 4}}
	k.stroke(sheetWall, "s-wall", 13, at)
	k.stroke(sheetAir, "s-air", 10, at)
	k.dust([]point{{x + 3, y + 7}, {x + 32, y + 7}})
}

func signLeak(k *sheet, x, y float64) { k.barb(point{x + 17, y + 5}, point{0, -1}) }

func signFlap(k *sheet, x, y float64) {
	k.ink("d-thin", "M%.1f %.1fh34", x, y)
	k.flap(point{x + 17, y}, 1)
}

func signAway(k *sheet, x, y float64) { k.ink("d-thin d-away", "M%.1f %.1fh34", x, y) }

func signCap(k *sheet, x, y float64) {
	k.ink("d-thin", "M%.1f %.1fh26", x+8, y)
	k.ink("d-bar", "M%.1f %.1fv14", x+8, y-7)
}

func signRing(k *sheet, x, y float64) {
	k.ink("d-thin", "M%.1f %.1fh24", x+10, y)
	k.cut(point{x + 10, y})
}
