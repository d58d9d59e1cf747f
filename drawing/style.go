package drawing

// Class is what a shape is; drawing.css gives it its look on a page, styles its
// look on paper. The two are held together by a test.
type Class string

// Classes.
const (
	Boundary  Class = "boundary" // chain line round a part, bulkhead
	RailLine  Class = "rail"
	WireLine  Class = "wire"
	LiveLine  Class = "live" // at battery volts
	OffLine   Class = "off"
	SymLine   Class = "sym"     // outline of a symbol, open
	SymBody   Class = "body"    // outline of a symbol, filled with the sheet
	SymInk    Class = "ink"     // filled with ink
	Dot       Class = "dot"     // test point
	DotInside Class = "inside"  // test point that is reached on the bench only
	Caps      Class = "caps"    // letter within a symbol
	NumDisc   Class = "num"     // circle of a number
	NumText   Class = "num-t"   // number
	HereDisc  Class = "here"    // circle of a number that this step is about
	HereText  Class = "here-t"  // such a number
	NameText  Class = "name"    // name of a part
	Stem      Class = "stem"    // from a label to what it names
	FlagBox   Class = "flag"    // black flag
	FlagText  Class = "flag-t"  // its words
	CauseBox  Class = "cause"   // square of a likely cause
	CauseText Class = "cause-t" // its letter
	CableEdge Class = "edge"    // outline of a cable's casing
	CableCase Class = "casing"
	RedLead   Class = "red"
	BlackLead Class = "black"
	JumpLead  Class = "jump"
	Halo      Class = "halo"  // keeps what is drawn over it apart from what lies under it
	RedBody   Class = "red-b" // probe, tag
	BlackBody Class = "black-b"
	JumpBody  Class = "jump-b"
	LeadText  Class = "lead-t"
	MeterBox  Class = "meter"
	MeterText Class = "meter-t"
	NoteText  Class = "note"
	ClampJaw  Class = "jaw"
	ArrowLine Class = "arrow"
	ArrowHead Class = "head"
	NowRing   Class = "now"     // dotted: hands or eyes go here
	NowLead   Class = "now-l"   // the cable to fit now
	NowBody   Class = "now-b"   // its clips
	NowDisc   Class = "stage"   // disc with the number of the line
	NowText   Class = "stage-t" // that number
	BreakLine Class = "break"   // zigzag: something is left out here
)

// Token is a colour by what it is for; drawing.css gives it a value in light,
// night, sun and print.
type Token string

// Tokens.
const (
	Nothing Token = "none"
	Sheets  Token = "sheet"
	Ink     Token = "ink"
	Ink2    Token = "ink-2"
	Act     Token = "act"
	OnAct   Token = "on-act"
	Red     Token = "red"
	OnRed   Token = "on-red"
	Black   Token = "black"
	OnBlack Token = "on-black"
	Casing  Token = "casing"
)

// Style is the look of a class.
type Style struct {
	Stroke, Fill Token
	Width        float64   // of the stroke [px]
	Dash         []float64 // [px]
	Bold         bool      // of words
	Round        bool      // round ends
}

// styles by class. Widths: ISO 128 steps line weights by about 1.4 or 2; light
// 1.6, heavy 4 here, so that the two are told apart at arm's length.
var styles = map[Class]Style{
	Boundary:  {Stroke: Ink2, Fill: Nothing, Width: 1, Dash: []float64{12, 3, 2, 3}},
	RailLine:  {Stroke: Ink, Fill: Nothing, Width: 1.4},
	WireLine:  {Stroke: Ink, Fill: Nothing, Width: 1.6},
	LiveLine:  {Stroke: Ink, Fill: Nothing, Width: 4},
	OffLine:   {Stroke: Ink, Fill: Nothing, Width: 1.6, Dash: []float64{5, 4}},
	SymLine:   {Stroke: Ink, Fill: Nothing, Width: 1.6, Round: true},
	SymBody:   {Stroke: Ink, Fill: Sheets, Width: 1.6},
	SymInk:    {Stroke: Nothing, Fill: Ink},
	Dot:       {Stroke: Nothing, Fill: Ink},
	DotInside: {Stroke: Ink, Fill: Sheets, Width: 1.6},
	Caps:      {Stroke: Nothing, Fill: Ink, Bold: true},
	NumDisc:   {Stroke: Ink, Fill: Sheets, Width: 1.4},
	NumText:   {Stroke: Nothing, Fill: Ink, Bold: true},
	HereDisc:  {Stroke: Ink, Fill: Ink, Width: 1.4},
	HereText:  {Stroke: Nothing, Fill: Sheets, Bold: true},
	NameText:  {Stroke: Nothing, Fill: Ink2},
	Stem:      {Stroke: Ink, Fill: Nothing, Width: 1},
	FlagBox:   {Stroke: Nothing, Fill: Ink},
	FlagText:  {Stroke: Nothing, Fill: Sheets, Bold: true},
	CauseBox:  {Stroke: Ink, Fill: Sheets, Width: 1.6},
	CauseText: {Stroke: Nothing, Fill: Ink, Bold: true},
	CableEdge: {Stroke: Ink, Fill: Nothing, Width: 9, Round: true},
	CableCase: {Stroke: Casing, Fill: Nothing, Width: 7, Round: true},
	RedLead:   {Stroke: Red, Fill: Nothing, Width: 4, Round: true},
	BlackLead: {Stroke: Black, Fill: Nothing, Width: 4, Round: true},
	Halo:      {Stroke: Sheets, Fill: Nothing, Width: 8, Round: true},
	JumpLead:  {Stroke: Ink, Fill: Nothing, Width: 2.6, Round: true},
	RedBody:   {Stroke: Casing, Fill: Red, Width: 1},
	BlackBody: {Stroke: Casing, Fill: Black, Width: 1},
	JumpBody:  {Stroke: Casing, Fill: Ink, Width: 1},
	LeadText:  {Stroke: Nothing, Fill: OnBlack, Bold: true},
	MeterBox:  {Stroke: Ink, Fill: Sheets, Width: 1.6},
	MeterText: {Stroke: Nothing, Fill: Ink, Bold: true},
	NoteText:  {Stroke: Nothing, Fill: Ink2},
	ClampJaw:  {Stroke: Ink, Fill: Nothing, Width: 3, Round: true},
	ArrowLine: {Stroke: Ink, Fill: Nothing, Width: 1.6},
	ArrowHead: {Stroke: Nothing, Fill: Ink},
	NowRing:   {Stroke: Act, Fill: Nothing, Width: 3.5, Dash: []float64{0.1, 7}, Round: true},
	NowLead:   {Stroke: Act, Fill: Nothing, Width: 3.6, Round: true},
	NowBody:   {Stroke: Casing, Fill: Act, Width: 1},
	NowDisc:   {Stroke: Nothing, Fill: Act},
	NowText:   {Stroke: Nothing, Fill: OnAct, Bold: true},
	BreakLine: {Stroke: Ink, Fill: Nothing, Width: 1.4},
}

// StyleOf is the look of a class.
func StyleOf(c Class) Style { return styles[c] }
