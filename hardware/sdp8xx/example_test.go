package sdp8xx_test

import (
	"fmt"

	"ductward/hardware/sdp8xx"
)

func ExampleDecode() {
	frame := sdp8xx.Frame{
		0x17, 0x70, sdp8xx.CRC(0x17, 0x70), // 6000 counts
		0x13, 0x88, sdp8xx.CRC(0x13, 0x88), // 25 °C
		0x00, 0x3C, sdp8xx.CRC(0x00, 0x3C), // 60 counts per Pa
	}
	s, err := sdp8xx.Decode(&frame)
	fmt.Printf("reads %.1f Pa of %.0f Pa, %v\n", s.Pressure, s.Span, err)
	fmt.Printf("which is %.1f Pa at 1013.25 mbar\n", s.Pressure*sdp8xx.Correction(101325))

	frame[0] ^= 0x01
	_, err = sdp8xx.Decode(&frame)
	fmt.Println(err)
	// Output:
	// reads 100.0 Pa of 500 Pa, <nil>
	// which is 95.3 Pa at 1013.25 mbar
	// a checksum is wrong: bytes were damaged on the wire
}
