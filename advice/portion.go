package advice

// Portion is a suspect's part of the whole, as a page shows it.
type Portion struct {
	ID, Letter, Name string
	Percent          string // "46 %"
	Bar              string // its length, "46.2%"
	From             string // where it begins in a bar of all of them
	Fill             string
	Share            float64
	Faults           []string // where they sit on the drawing
}

// A cause is listed by itself, and has a letter, from this share on, and no more
// of them than fit a glance.
const (
	shownFrom = 0.04
	shownMost = 6
)

// Portions are the leading suspects, the sound vehicle and none of these,
// likeliest first; what is left over is one portion without a letter.
func (s *Standing) Portions() []Portion {
	var out []Portion
	left := 1.0
	add := func(id, name string, p float64, faults []string) {
		letter := s.Letter(id)
		out = append(out, Portion{ID: id, Letter: letter, Name: name, Share: p, Fill: Fill(letter), Faults: faults})
		left -= p
	}
	sound := s.Advice.NoFault >= shownFrom
	for _, x := range s.Advice.Suspects {
		if sound && s.Advice.NoFault > x.Probability {
			add(noFault, "Nothing wrong", s.Advice.NoFault, nil)
			sound = false
		}
		if x.Probability < shownFrom || len(out) == shownMost {
			break
		}
		var faults []string
		for _, f := range x.Faults {
			faults = append(faults, f.Fault)
		}
		add(x.ID, Capital(x.Name), x.Probability, faults)
	}
	if sound {
		add(noFault, "Nothing wrong", s.Advice.NoFault, nil)
	}
	add(noneOf, "Something not on the list", s.Advice.NoneOfThese, nil)
	if left > 0.005 {
		out = append(out, Portion{ID: "others", Name: "All others together", Share: left, Fill: "blank"})
	}
	return lay(out)
}

// lay fills in what a page needs to draw portions side by side.
func lay(list []Portion) []Portion {
	from := 0.0
	for i := range list {
		p := &list[i]
		p.Percent, p.Bar, p.From = Percent(p.Share), length(p.Share), length(from)
		from += p.Share
	}
	return list
}
