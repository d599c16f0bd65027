package report

import (
	"fmt"
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"graftnote/note"
)

// Sizes of a chart in points: as wide as the text of an A4 page.
const (
	chartWidth  = 500.0
	chartHeight = 250.0
	labelSize   = 8.5
	panelGap    = 14.0
)

// Greys of lines. Nothing is told apart by grey alone.
var (
	inkBlack = color.Gray{Y: 0}
	inkGrey  = color.Gray{Y: 130}
	inkHair  = color.Gray{Y: 200}
)

var dashes = []vg.Length{vg.Points(4), vg.Points(2.5)}

func sans(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(size)}
}

// newPlot is an empty chart in our type.
func newPlot(x, y string) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font = sans(labelSize + 0.5)
		a.Label.Padding = vg.Points(4)
		a.Tick.Label.Font = sans(labelSize)
		a.Tick.Length = vg.Points(4)
		a.Padding = vg.Points(3)
	}
	p.Title.TextStyle.Font = sans(labelSize + 1)
	p.Title.Padding = vg.Points(4)
	p.X.Label.Text, p.Y.Label.Text = x, y
	return p
}

// record draws plots side by side and keeps what they draw.
func record(width, height float64, plots ...*plot.Plot) *note.Chart {
	r := newRecorder(width, height)
	all := draw.NewCanvas(r, vg.Points(width), vg.Points(height))
	part := vg.Points(width-panelGap*float64(len(plots)-1)) / vg.Length(len(plots))
	for i, p := range plots {
		left := vg.Length(i) * (part + vg.Points(panelGap))
		p.Draw(draw.Crop(all, left, left+part-vg.Points(width), 0, 0))
	}
	return r.chart
}

func line(points plotter.XYs, c color.Color, width float64, dash []vg.Length) *plotter.Line {
	return &plotter.Line{XYs: points, LineStyle: draw.LineStyle{Color: c, Width: vg.Points(width), Dashes: dash}}
}

func marks(points plotter.XYs, shape draw.GlyphDrawer, size float64) *plotter.Scatter {
	return &plotter.Scatter{XYs: points, GlyphStyle: draw.GlyphStyle{Color: inkBlack, Radius: vg.Points(size), Shape: shape}}
}

func captions(points plotter.XYs, labels []string) *plotter.Labels {
	l, err := plotter.NewLabels(plotter.XYLabels{XYs: points, Labels: labels})
	if err != nil {
		panic(err) // only for lists of different lengths
	}
	for i := range l.TextStyle {
		l.TextStyle[i].Font = sans(labelSize)
	}
	return l
}

func wholeTicks(from, to, step float64) plot.ConstantTicks {
	var out plot.ConstantTicks
	for v := from; v <= to+step/1000; v += step {
		out = append(out, plot.Tick{Value: v, Label: strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)})
	}
	return out
}

// shortTicks are the library's ticks, labelled without needless noughts.
type shortTicks struct{}

func (shortTicks) Ticks(low, high float64) []plot.Tick {
	out := plot.DefaultTicks{}.Ticks(low, high)
	for i, t := range out {
		if !t.IsMinor() {
			out[i].Label = strconv.FormatFloat(math.Round(t.Value*1000)/1000+0, 'f', -1, 64)
		}
	}
	return out
}

// bar is one rate of the chart of rates.
type bar struct {
	title            string
	at, lower, upper float64 // percent
	own              bool    // there is a rate of this series
	published        []float64
}

// rateChart sets each rate with its interval above the published figures.
func rateChart(bars []bar) *note.Chart {
	p := newPlot("per cent", "")
	var own, rings plotter.XYs
	errors := plotter.XErrors{}
	var ticks plot.ConstantTicks
	for i, b := range bars {
		y := float64(len(bars) - i)
		ticks = append(ticks, plot.Tick{Value: y, Label: b.title})
		p.Add(line(plotter.XYs{{X: 0, Y: y - 0.5}, {X: 100, Y: y - 0.5}}, inkHair, 0.3, nil))
		if b.own {
			own = append(own, plotter.XY{X: b.at, Y: y + 0.17})
			errors = append(errors, struct{ Low, High float64 }{b.at - b.lower, b.upper - b.at})
		}
		for _, v := range b.published {
			rings = append(rings, plotter.XY{X: v, Y: y - 0.2})
		}
	}
	style := draw.LineStyle{Color: inkBlack, Width: vg.Points(0.8)}
	p.Add(&plotter.XErrorBars{XYs: own, XErrors: errors, LineStyle: style, CapWidth: vg.Points(5)})
	p.Add(marks(own, draw.BoxGlyph{}, 3), marks(rings, draw.RingGlyph{}, 2.6))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 100, 0.5, float64(len(bars))+0.5
	p.X.Tick.Marker, p.Y.Tick.Marker = wholeTicks(0, 100, 10), ticks
	p.Y.Tick.Length = 0
	return record(chartWidth, 48+26*float64(len(bars)), p)
}

// manyEyes is above what a plot of single eyes can show.
const manyEyes = 1000

// doubleAngle sets the panels of a double-angle plot side by side: the eyes as
// rings where they may be drawn, the centroid as a cross, and the ellipse of one
// standard deviation.
func doubleAngle(all []vectors) *note.Chart {
	reach := 2.0
	for _, v := range all {
		c := v.centroid
		reach = math.Max(reach, math.Max(math.Abs(c.X)+c.SDX, math.Abs(c.Y)+c.SDY))
		for _, e := range v.eyes {
			reach = math.Max(reach, e.Astigmatism())
		}
	}
	reach = math.Min(math.Ceil(reach), 60)
	step := math.Max(1, math.Ceil(reach/6))
	var panels []*plot.Plot
	for _, v := range all {
		p := newPlot("C cos 2a, dioptres", "C sin 2a, dioptres")
		p.Title.Text = fmt.Sprintf("%s (%d eyes)", v.title, v.n.n)
		for ring := step; ring <= reach; ring += step {
			p.Add(line(ellipse(0, 0, ring, ring), inkHair, 0.4, nil))
		}
		p.Add(line(plotter.XYs{{X: -reach, Y: 0}, {X: reach, Y: 0}}, inkHair, 0.4, nil), line(plotter.XYs{{X: 0, Y: -reach}, {X: 0, Y: reach}}, inkHair, 0.4, nil))
		edge := reach * 1.12
		ends := captions(plotter.XYs{{X: edge, Y: 0}, {X: 0, Y: edge}, {X: -edge, Y: 0}, {X: 0, Y: -edge}}, []string{"180°", "45°", "90°", "135°"})
		for i := range ends.TextStyle {
			ends.TextStyle[i].XAlign, ends.TextStyle[i].YAlign = draw.XCenter, draw.YCenter
		}
		p.Add(ends)
		if len(v.eyes) <= manyEyes {
			var eyes plotter.XYs
			for _, e := range v.eyes {
				eyes = append(eyes, plotter.XY{X: -2 * e.J0, Y: -2 * e.J45})
			}
			p.Add(marks(eyes, draw.RingGlyph{}, 2))
		}
		c := v.centroid
		p.Add(line(ellipse(c.X, c.Y, c.SDX, c.SDY), inkBlack, 0.9, dashes))
		arm := reach / 16
		p.Add(line(plotter.XYs{{X: c.X - arm, Y: c.Y}, {X: c.X + arm, Y: c.Y}}, inkBlack, 1.6, nil), line(plotter.XYs{{X: c.X, Y: c.Y - arm}, {X: c.X, Y: c.Y + arm}}, inkBlack, 1.6, nil))
		limit := reach * 1.2
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = -limit, limit, -limit, limit
		from := -math.Floor(reach/step) * step
		p.X.Tick.Marker, p.Y.Tick.Marker = wholeTicks(from, reach, step), wholeTicks(from, reach, step)
		panels = append(panels, p)
	}
	return record(chartWidth, squareHeight(panels[0], (chartWidth-panelGap*float64(len(panels)-1))/float64(len(panels))), panels...)
}

// squareHeight finds the height at which a dioptre is as long down as across.
func squareHeight(p *plot.Plot, width float64) float64 {
	height := width
	for range 4 {
		inner := p.DataCanvas(draw.NewCanvas(newRecorder(width, height), vg.Points(width), vg.Points(height)))
		size := inner.Size()
		height += (size.X - size.Y).Points()
	}
	return height
}

func ellipse(x, y, rx, ry float64) plotter.XYs {
	const parts = 72
	var out plotter.XYs
	for i := 0; i <= parts; i++ {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / parts)
		out = append(out, plotter.XY{X: x + rx*cos, Y: y + ry*sin})
	}
	return out
}

// survivalChart draws the whole curve with its limits where it may be shown, and
// otherwise its values at the times that may be. Below each time of the axis
// stands the number at risk. from is where the upright axis begins, per cent.
func survivalChart(s survival) (drawn *note.Chart, from float64) {
	p := newPlot("months since surgery; in the second line the grafts at risk", "grafts surviving, per cent")
	ticks := plot.ConstantTicks{{Value: 0, Label: "0\n" + s.n.String()}}
	last := 0.0
	for _, step := range s.steps {
		ticks = append(ticks, plot.Tick{Value: step.Time, Label: fmt.Sprintf("%g\n%d", step.Time, step.AtRisk)})
		last = step.Time
	}
	low := 100.0
	value := func(x float64) float64 {
		low = math.Min(low, x*100)
		return x * 100
	}
	if s.whole != nil {
		curve, under, over := plotter.XYs{{X: 0, Y: 100}}, plotter.XYs{}, plotter.XYs{}
		for _, step := range s.whole.Steps {
			curve = append(curve, plotter.XY{X: step.Time, Y: value(step.Survival)})
			if step.Limits {
				under = append(under, plotter.XY{X: step.Time, Y: value(step.Lower)})
				over = append(over, plotter.XY{X: step.Time, Y: step.Upper * 100})
			}
			last = math.Max(last, step.Time)
		}
		steps := []*plotter.Line{line(curve, inkBlack, 1.2, nil), line(under, inkGrey, 0.7, dashes), line(over, inkGrey, 0.7, dashes)}
		for _, l := range steps {
			l.StepStyle = plotter.PostStep
			p.Add(l)
		}
		var left plotter.XYs
		for _, step := range s.whole.Steps {
			if step.Censored > 0 {
				left = append(left, plotter.XY{X: step.Time, Y: step.Survival * 100})
			}
		}
		p.Add(marks(left, draw.PlusGlyph{}, 2.5))
	} else {
		points := plotter.XYs{{X: 0, Y: 100}}
		var bars plotter.XYs
		errors := plotter.YErrors{}
		for _, step := range s.steps {
			at := plotter.XY{X: step.Time, Y: value(step.Survival)}
			points = append(points, at)
			if step.Limits {
				bars = append(bars, at)
				errors = append(errors, struct{ Low, High float64 }{at.Y - value(step.Lower), step.Upper*100 - at.Y})
			}
		}
		p.Add(line(points, inkGrey, 0.7, dashes), marks(points, draw.BoxGlyph{}, 2.8))
		p.Add(&plotter.YErrorBars{XYs: bars, YErrors: errors, LineStyle: draw.LineStyle{Color: inkBlack, Width: vg.Points(0.8)}, CapWidth: vg.Points(5)})
	}
	floor := math.Max(0, math.Floor(low/10)*10)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, math.Max(last, 1), math.Min(floor, 90), 100
	p.X.Tick.Marker, p.Y.Tick.Marker = ticks, wholeTicks(p.Y.Min, 100, 10)
	return record(chartWidth, chartHeight, p), p.Y.Min
}

// manySteps is above what a curve can show.
const manySteps = 1000

// curveChart draws the cumulative sum against its zero line.
func curveChart(c curve, unmasked bool) *note.Chart {
	p := newPlot("operations with air injected, in order", "cumulative sum")
	points := plotter.XYs{{X: 0, Y: 0}}
	skip := (len(c.at) + manySteps - 1) / manySteps
	for i := range c.at {
		if i%max(skip, 1) == 0 || i == len(c.at)-1 {
			points = append(points, plotter.XY{X: float64(c.at[i]), Y: c.value[i]})
		}
	}
	p.Add(line(plotter.XYs{{X: 0, Y: 0}, {X: float64(c.at[len(c.at)-1]), Y: 0}}, inkGrey, 0.7, dashes), line(points, inkBlack, 1.1, nil))
	if !unmasked || len(points) <= 60 {
		p.Add(marks(points, draw.BoxGlyph{}, 1.6))
	}
	p.Y.Min, p.Y.Max = math.Min(p.Y.Min, -1), math.Max(p.Y.Max, 1)
	p.X.Tick.Marker, p.Y.Tick.Marker = shortTicks{}, shortTicks{}
	return record(chartWidth, chartHeight, p)
}
