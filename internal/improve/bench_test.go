package improve

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// large is a shop of 40 runs: thirteen machines with hose and drop on a trunk of fourteen pieces that grows twice, with
// everything in it for which there are changes.
func large() string {
	const machines = 13
	var m, g, runs, joints strings.Builder
	diameter := func(i int) int { return []int{180, 180, 180, 180, 224, 224, 224, 224, 250, 250, 250, 250, 250, 250}[i] }
	for i := 1; i <= machines; i++ {
		fmt.Fprintf(&m, "      - {machine: machine %d, needs: %d m3/h}\n", i, 600+50*(i%7))
		fmt.Fprintf(&g, "      - {gate: gate %d, seat_leak: %d m3/h, position: by hand}\n", i, i)
		fmt.Fprintf(&runs, "        - {run: hose %d, from: machine %d, to: drop %d, diameter: 120 mm, length: 1.5 m, material: flexible hose, fittings: [{measured: {drop: 600 Pa, flow: 800 m3/h}}]}\n", i, i, i)
		to := fmt.Sprintf("wye %d", max(i-1, 1))
		fmt.Fprintf(&runs, "        - {run: drop %d, to: %s, diameter: 120 mm, length: 3 m, gate: gate %d, fittings: [{elbow: 90 deg, make: gored, radius: 1, pieces: 3}, {elbow: 45 deg, make: smooth, radius: 1.5}]}\n", i, to, i)
		if i == machines {
			continue
		}
		next, straight := fmt.Sprintf("wye %d", i+1), fmt.Sprintf("trunk %d", i-1)
		if i == machines-1 {
			next = "trunk 13"
		}
		if i == 1 {
			straight = "drop 2"
		}
		step := ""
		if diameter(i+1) > diameter(i) && i < machines-1 {
			step = fmt.Sprintf(", fittings: [{expansion: {to: %d mm, angle: 20 deg}}]", diameter(i+1))
		}
		to = next
		fmt.Fprintf(&runs, "        - {run: trunk %d, from: wye %d, to: %s, diameter: %d mm, length: 2.5 m%s}\n", i, i, to, diameter(i), step)
		branch := fmt.Sprintf("drop %d", i+1)
		if i == 1 {
			branch = "drop 1"
		}
		fmt.Fprintf(&joints, "        - {junction: wye %d, kind: wye, angle: %d deg, straight: %s, branch: %s}\n", i, []int{45, 60, 90}[i%3], straight, branch)
	}
	runs.WriteString("        - {run: trunk 13, to: trunk 14, diameter: 250 mm, length: 4 m, fittings: [{elbow: 90 deg, make: mitred}]}\n")
	runs.WriteString("        - {run: trunk 14, to: collector, diameter: 250 mm, length: 6 m}\n")
	return head + "    transport_velocity: 12 m/s\n    machines:\n" + m.String() + "    gates:\n" + g.String() + "    ducts:\n      runs:\n" + runs.String() + "      junctions:\n" + joints.String()
}

// TestLargeShop holds that the benchmark's shop is what it says, and that every change of it has an answer.
func TestLargeShop(t *testing.T) {
	c := read(t, large()).Collectors[0]
	require.Len(t, c.Network.Runs, 40)
	a, err := Of(c, Question{})
	require.NoError(t, err)
	require.Len(t, a.Sets, 13+78+1)
	require.Greater(t, a.Tried, 100)
	require.Zero(t, a.Lost)
	require.NotEmpty(t, a.Steps)
}

// BenchmarkImprove40Runs answers the whole question for a shop of 40 runs.
func BenchmarkImprove40Runs(b *testing.B) {
	c := read(b, large()).Collectors[0]
	var a *Answer
	var err error
	for b.Loop() {
		if a, err = Of(c, Question{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(a.Tried), "changes")
	b.ReportMetric(float64(len(a.Sets)), "sets")
	b.ReportMetric(float64(len(a.Steps)), "steps")
}
