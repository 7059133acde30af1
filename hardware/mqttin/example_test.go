package mqttin_test

import (
	"fmt"
	"time"

	"ductward/hardware/mqttin"
	"ductward/internal/quantity"
)

func ExampleDecoder_Decode() {
	d, err := mqttin.NewDecoder([]mqttin.Input{
		{Channel: "main/air", Topic: "shop/room", Field: "t", Unit: "degC", Stale: time.Minute,
			Want: mqttin.Want{Kind: quantity.Temperature, Low: 223.15, High: 373.15}},
		{Channel: "gate/saw", Topic: "shop/saw", Stale: time.Minute, Want: mqttin.Want{Switch: true}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	at := mqttin.Stamp{Mono: time.Hour}
	for _, m := range [][2]string{{"shop/room", `{"t": 20.5, "h": 44}`}, {"shop/saw", "open"}, {"shop/saw", "ajar"}} {
		readings, err := d.Decode(m[0], []byte(m[1]), at)
		for _, r := range readings {
			fmt.Println(r.Channel, r.Value)
		}
		if err != nil {
			fmt.Println(err)
		}
	}
	// Output:
	// main/air 293.65
	// gate/saw 1
	// gate/saw: message on topic "shop/saw": "ajar" is no position; a switch says 1 or 0, open or shut, on or off, true or false
}
