package plot

import (
	"time"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// Options returns the chart as options for the chart script. Colours are written "@air", "@plan" …: the page's own
// script puts in those of the scheme that is shown. Nothing in it is a function or HTML, so that it passes as data under
// a strict content policy.
func (c *Chart) Options() map[string]any {
	line := charts.NewLine()
	line.SetGlobalOptions(
		charts.WithAnimation(false),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "axis"}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
		charts.WithGridOpts(opts.Grid{Left: "64", Right: "20", Top: "34", Bottom: "34"}),
		charts.WithXAxisOpts(opts.XAxis{Type: "time", Min: c.stamp(c.From), Max: c.stamp(c.To),
			AxisLabel: &opts.AxisLabel{Color: "@ink", FontSize: 13, HideOverlap: opts.Bool(true), ShowMinLabel: opts.Bool(false), ShowMaxLabel: opts.Bool(false)},
			AxisLine:  &opts.AxisLine{OnZero: opts.Bool(false), LineStyle: &opts.LineStyle{Color: "@ink"}}}),
		charts.WithYAxisOpts(c.valueAxis()),
	)
	for i := range c.Lines {
		c.addLine(line, i)
	}
	line.Validate()
	out := line.JSON()
	out["useUTC"] = true // the times have been moved to the shop's zone already
	out["color"] = []string{"@air", "@ink", "@plan", "@act"}
	out["textStyle"] = map[string]any{"color": "@ink", "fontSize": 13}
	delete(out, "toolbox")
	c.finish(out)
	return out
}

// valueAxis is the axis of the values, with the unit above it.
func (c *Chart) valueAxis() opts.YAxis {
	low, high := c.reach()
	steps, _ := levels(low, high, 5)
	return opts.YAxis{Type: "value", Name: c.Unit, Min: steps[0], Max: steps[len(steps)-1],
		AxisLabel: &opts.AxisLabel{Color: "@ink", FontSize: 13},
		SplitLine: &opts.SplitLine{Show: opts.Bool(true), LineStyle: &opts.LineStyle{Color: "@line"}}}
}

// stamp is a time in milliseconds as the shop's clock on the wall shows it. In the hour that comes twice in autumn the
// line doubles back; a shop sleeps then.
func (c *Chart) stamp(t time.Time) int64 {
	_, offset := t.In(c.location()).Zone()
	return t.UnixMilli() + int64(offset)*1000
}

// addLine adds a line and, before it, its band: the lower edge, and the rest of the band stacked on it.
func (c *Chart) addLine(chart *charts.Line, i int) {
	l := &c.Lines[i]
	tone := "@" + string(l.Tone)
	if l.Band != NoBand {
		low, rest := c.bandData(l)
		width := float32(0)
		if l.Band == Spread {
			width = 1
		}
		edge := charts.WithLineStyleOpts(opts.LineStyle{Color: tone, Width: width, Opacity: opts.Float(edgeOpacity(l.Band))})
		stack := charts.WithLineChartOpts(opts.LineChart{Stack: l.Name, ShowSymbol: opts.Bool(false), Symbol: "none"})
		chart.AddSeries("", low, stack, edge)
		chart.AddSeries("", rest, stack, edge, charts.WithAreaStyleOpts(opts.AreaStyle{Color: tone, Opacity: opts.Float(0.18)}))
	}
	kind := "solid"
	if l.Dotted {
		kind = "dotted"
	}
	shape := opts.LineChart{ShowSymbol: opts.Bool(l.Dots), Symbol: "circle", SymbolSize: 5}
	if l.Step {
		shape.Step = "end"
	}
	chart.AddSeries(l.Name, c.lineData(l), charts.WithLineChartOpts(shape),
		charts.WithLineStyleOpts(opts.LineStyle{Color: tone, Width: 2, Type: kind}),
		charts.WithItemStyleOpts(opts.ItemStyle{Color: tone}))
}

// edgeOpacity is how strongly a band's edge shows.
func edgeOpacity(b Band) float32 {
	if b == Spread {
		return 0.9
	}
	return 0
}

// lineData is the line itself; a gap is null. The name of each point is its value in words, which the tooltip shows.
func (c *Chart) lineData(l *Line) []opts.LineData {
	out := make([]opts.LineData, 0, len(l.Points))
	for _, p := range l.Points {
		out = append(out, opts.LineData{Name: p.Text, Value: []any{c.stamp(p.At), number(p.V)}})
	}
	return out
}

// bandData is the lower edge of the band and its height.
func (c *Chart) bandData(l *Line) (low, rest []opts.LineData) {
	for _, p := range l.Points {
		lo, height := number(p.Lo), number(p.Hi-p.Lo)
		if !known(p.V) || lo == nil || height == nil {
			lo, height = nil, nil
		}
		t := c.stamp(p.At)
		low = append(low, opts.LineData{Value: []any{t, lo}})
		rest = append(rest, opts.LineData{Value: []any{t, height}})
	}
	return low, rest
}

// number is a value, or nil (null) for a gap.
func number(v float64) any {
	if !known(v) {
		return nil
	}
	return v
}

// finish adds what the builders have no field for: bands of either sign stack on each other and do not answer the
// pointer, and the marks and events lie over the last line.
func (c *Chart) finish(out map[string]any) {
	series, ok := out["series"].(charts.MultiSeries)
	if !ok {
		return
	}
	list := make([]map[string]any, 0, len(series))
	for _, s := range series {
		m := map[string]any{"type": types.ChartLine, "name": s.Name, "data": s.Data, "lineStyle": s.LineStyle,
			"itemStyle": s.ItemStyle, "areaStyle": s.AreaStyle, "showSymbol": s.ShowSymbol, "symbol": s.Symbol,
			"symbolSize": s.SymbolSize, "connectNulls": false, "clip": false}
		if s.Stack != "" {
			m["stack"], m["stackStrategy"], m["silent"] = s.Stack, "all", true
		}
		if s.Step != nil {
			m["step"] = s.Step
		}
		list = append(list, m)
	}
	if len(list) > 0 {
		list[len(list)-1]["markLine"] = c.markLine()
	}
	out["series"] = list
}

// markLine holds the levels that mean something and what happened.
func (c *Chart) markLine() map[string]any {
	data := []map[string]any{}
	for _, m := range c.Marks {
		if known(m.V) {
			data = append(data, map[string]any{"yAxis": m.V, "name": m.Text, "lineStyle": map[string]any{"color": "@" + string(m.Tone), "width": 2, "type": "dashed"},
				"label": map[string]any{"formatter": "{b}", "position": "insideEndTop", "color": "@ink", "fontSize": 13}})
		}
	}
	for _, e := range c.Events {
		if e.At.Before(c.From) || e.At.After(c.To) {
			continue
		}
		data = append(data, map[string]any{"xAxis": c.stamp(e.At), "name": e.Text, "lineStyle": map[string]any{"color": "@muted", "width": 1, "type": "solid"},
			"label": map[string]any{"formatter": "{b}", "position": "insideStartBottom", "color": "@ink", "fontSize": 12}})
	}
	return map[string]any{"silent": true, "symbol": "none", "data": data}
}
