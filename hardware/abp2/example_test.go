package abp2_test

import (
	"fmt"

	"ductward/hardware/abp2"
)

func ExampleRange_Decode() {
	part := abp2.Range{Span: 2500}                                // ±2.5 kPa
	frame := abp2.Frame{0x40, 0x4C, 0xCC, 0xCD, 0x60, 0x00, 0x00} // suction in a trunk
	s, err := part.Decode(&frame)
	fmt.Printf("%.1f Pa, chip at %.2f K, %v\n", s.Pressure, s.Temperature, err)

	frame = abp2.Frame{0x40, 0, 0, 0, 0x60, 0, 0}
	_, err = part.Decode(&frame)
	fmt.Println(err)
	// Output:
	// -1250.0 Pa, chip at 298.15 K, <nil>
	// good status with pressure counts of 0: the chip has latched up
}
