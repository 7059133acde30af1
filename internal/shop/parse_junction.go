package shop

import (
	"fmt"
	"math"

	"ductward/internal/quantity"
)

// junctionKinds are the words for how streams join. A tee is a wye of 90°.
var junctionKinds = []string{"lossless", "wye", "splitter", "tee"}

// junction reads one junction. Its legs are checked later.
func (p *parts) junction(v *value, handbook bool) {
	o := p.reader.object(v, "junction", "junction")
	j := &Junction{Name: o.name("junction", "saw wye"), Angle: math.NaN(), Line: v.line}
	kind := o.oneOf("kind", junctionKinds)
	o.require("kind", `"kind: wye", "kind: tee" or "kind: splitter", or "kind: lossless" where the losses stand on the runs`)
	j.Angle = o.quantity("angle", wyeAngle, math.NaN())
	switch kind {
	case 1, 3:
		p.wye(o, j, kind == 3)
		j.Handbook = handbook
	case 2:
		p.splitter(o, j)
	default:
		j.Straight, j.Branch = o.word("straight"), o.word("branch")
		o.unfit("angle", `a lossless junction`, `leave it out, or write "kind: wye"`)
		o.unfit("swept", `a lossless junction`, `leave it out, or write "kind: wye"`)
	}
	o.close()
	if j.Name == "" {
		p.broken = true
		return
	}
	p.ends.add(o, o.get("junction"), "junction", j.Name, nil)
	p.Network.Junctions = append(p.Network.Junctions, j)
	p.joints[j] = o
}

// wye reads the legs of a wye or tee, and how the branch's corner is made.
func (p *parts) wye(o *object, j *Junction, tee bool) {
	j.Kind = Wye
	if tee {
		o.unfit("angle", "a tee, which is always 90 deg", `leave it out, or write "kind: wye"`)
		j.Angle = 90 * degree
	} else {
		o.require("angle", "the angle between branch and main, such as \"angle: 45 deg\"")
	}
	j.Straight, j.Branch = o.word("straight"), o.word("branch")
	o.require("straight", "the run that comes in straight on, as \"straight: RUN\"")
	o.require("branch", "the run that comes in at the angle, as \"branch: RUN\"")
	if b := p.Collector.Run(j.Branch); b != nil && b.Diameter > 0 {
		j.Swept = o.swept(b.Diameter)
	} else {
		o.get("swept") // the branch is reported
	}
}

// swept reads the radius of a rounded corner as a share of the branch's diameter; a plain number is one already.
func (o *object) swept(diameter float64) float64 {
	w := o.word("swept")
	if w == "" {
		return 0
	}
	ratio, ok := pure(w)
	if !ok {
		length, err := quantity.Parse(quantity.Length, w)
		if err != nil {
			o.wrong(o.get("swept"), fmt.Sprintf("swept %s is neither a number nor a length", shown(w)), `write the radius of the rounded corner, as "swept: 30 mm", or "swept: 0.2" of the branch's diameter`)
			return 0
		}
		ratio = length / diameter
	}
	if ratio < 0 || ratio > 1 {
		o.wrong(o.get("swept"), fmt.Sprintf("swept %s is not between 0 and one diameter of the branch", w), "a branch that curves in over more than its diameter has a smaller angle: give that as angle, and the curve as an elbow of the branch")
		return 0
	}
	return ratio
}

// splitter reads the two legs of a piece that parts one drop between two hoods.
func (p *parts) splitter(o *object, j *Junction) {
	j.Kind = Splitter
	o.require("angle", "the angle between each leg and the run that goes on, such as \"angle: 30 deg\"")
	for _, key := range []string{"straight", "branch", "swept"} {
		o.unfit(key, "a splitter", `write "legs: [RUN, RUN]"`)
	}
	v, legs := o.get("legs"), o.list("legs")
	o.require("legs", "the two runs that lead to it, as \"legs: [RUN, RUN]\"")
	switch {
	case v == nil:
	case len(legs) != 2 || legs[0].shape != scalar || legs[1].shape != scalar:
		o.wrong(v, "legs does not name two runs", `write "legs: [RUN, RUN]"`)
	default:
		j.Straight, j.Branch = legs[0].text, legs[1].text
	}
}

// unfit reports a key that does not belong to what is described.
func (o *object) unfit(key, what, want string) {
	if w := o.get(key); w != nil && o.has("kind") {
		o.wrong(w, fmt.Sprintf("%s is given for %s", key, what), want)
	}
}
