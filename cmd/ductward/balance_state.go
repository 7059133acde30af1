package main

import (
	"errors"

	"github.com/spf13/pflag"
)

// addStateFlags adds the flags that say in which state of filter, fan and air the model is solved.
func addStateFlags(fl *pflag.FlagSet, f *airflowFlags) {
	fl.Float64Var(&f.filter, "filter-resistance", 1, "filter resistance, as a factor on that of the clean filter")
	fl.Float64Var(&f.speed, "speed", 1, "fan speed, as a factor on that at which it runs")
	fl.StringVar(&f.air, "air", "", "the air, TEMPERATURE,PRESSURE,HUMIDITY as 20C,101325Pa,50% (default: the site's)")
}

// noDrawing is the error of a shop file that says nothing of the ducts.
func noDrawing() error {
	return errors.New("no collector has a drawing of its ducts: write \"runs\" in the shop file to have them solved")
}
