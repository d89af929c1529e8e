package report

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
)

// The parts of HL7 FHIR R4 (4.0.1) that are written. Only what is certain is
// coded: UCUM units, and LOINC 72514-3 for pain on a scale of 0 to 10 as
// reported; all else is text, which FHIR allows in every CodeableConcept.
type (
	bundle struct {
		ResourceType string      `json:"resourceType"`
		ID           string      `json:"id"`
		Type         string      `json:"type"`
		Timestamp    string      `json:"timestamp"`
		Entry        []fhirEntry `json:"entry"`
	}
	fhirEntry struct {
		FullURL  string      `json:"fullUrl"`
		Resource observation `json:"resource"`
	}
	observation struct {
		ResourceType string       `json:"resourceType"`
		ID           string       `json:"id"`
		Status       string       `json:"status"`
		Category     []concept    `json:"category"`
		Code         concept      `json:"code"`
		Subject      reference    `json:"subject"`
		Period       *period      `json:"effectivePeriod,omitempty"`
		BodySite     *concept     `json:"bodySite,omitempty"`
		Method       *concept     `json:"method,omitempty"`
		Device       *reference   `json:"device,omitempty"`
		ValueInteger *int         `json:"valueInteger,omitempty"`
		Note         []annotation `json:"note,omitempty"`
		Component    []component  `json:"component,omitempty"`
	}
	component struct {
		Code   concept   `json:"code"`
		Value  *quantity `json:"valueQuantity,omitempty"`
		Absent *concept  `json:"dataAbsentReason,omitempty"`
	}
	concept struct {
		Coding []coding `json:"coding,omitempty"`
		Text   string   `json:"text,omitempty"`
	}
	coding struct {
		System  string `json:"system"`
		Code    string `json:"code"`
		Display string `json:"display,omitempty"`
	}
	quantity struct {
		Value  float64 `json:"value"`
		Unit   string  `json:"unit"`
		System string  `json:"system"`
		Code   string  `json:"code"`
	}
	reference struct {
		Identifier *identifier `json:"identifier,omitempty"`
		Display    string      `json:"display,omitempty"`
	}
	identifier struct {
		Value string `json:"value"`
	}
	period struct {
		Start string `json:"start"`
		End   string `json:"end"`
	}
	annotation struct {
		Text string `json:"text"`
	}
)

const ucum = "http://unitsofmeasure.org"

// FHIR writes a Bundle of Observations: for each session one for each joint
// of each hand with its range as components, and one for pain where there is an answer. The
// status is preliminary: estimates that wait for a therapist's review.
func (r *Report) FHIR(w io.Writer) error {
	b := bundle{ResourceType: "Bundle", ID: fhirID(r.Client, r.From.String(), r.To.String()), Type: "collection", Timestamp: r.Made.UTC().Format(time.RFC3339)}
	for _, s := range r.Sessions {
		for _, side := range r.Hands {
			reach, ok := review.ReachOf(s, side)
			for j := hand.Joint(0); j < hand.NumJoints; j++ {
				if ok[j] {
					b.add(r.joint(s, side, j, reach[j]))
				}
			}
		}
		for i := range s.Exercises {
			e := &s.Exercises[i]
			for _, p := range []struct {
				when  string
				value *int
			}{{"before", e.PainBefore}, {"after", e.PainAfter}} {
				if p.value != nil {
					b.add(r.pain(s, e, p.when, *p.value))
				}
			}
		}
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	if err := enc.Encode(b); err != nil {
		return fmt.Errorf("writing fhir: %w", err)
	}
	return nil
}

func (b *bundle) add(o observation) {
	b.Entry = append(b.Entry, fhirEntry{"urn:uuid:" + uuid(o.ID), o})
}

// base is what all observations of a session have.
func (r *Report) base(s *session.Session, id ...string) observation {
	return observation{
		ResourceType: "Observation", ID: fhirID(append([]string{s.ID.String()}, id...)...), Status: "preliminary",
		Category: []concept{{Coding: []coding{{System: "http://terminology.hl7.org/CodeSystem/observation-category", Code: "exam", Display: "Exam"}}}},
		Subject:  reference{Identifier: &identifier{r.Client}},
		Period:   &period{s.Started.UTC().Format(time.RFC3339), s.Started.Add(s.Ended).UTC().Format(time.RFC3339)},
		Device:   &reference{Display: r.Software},
	}
}

func (r *Report) joint(s *session.Session, side hand.Side, j hand.Joint, x review.Reach) observation {
	id := []string{j.String()}
	if side != r.Hands[0] {
		id = append(id, side.String())
	}
	o := r.base(s, id...)
	o.Code.Text = "Active range of motion, " + jointWords(j)
	o.BodySite = &concept{Text: jointWords(j) + ", " + sideWords(side)}
	o.Method = &concept{Text: "Camera estimate from a hand-landmark model"}
	o.Note = []annotation{{"Estimate, for review by the therapist. Flexion is positive, past straight negative, 0 is straight."}}
	degrees := func(what string, deg, se float64, judged bool) {
		c := component{Code: concept{Text: what}}
		if judged {
			c.Value = &quantity{math.Round(deg*10)/10 + 0, "degree", ucum, "deg"}
		} else {
			c.Absent = &concept{Text: "not judged: the view did not show it"}
		}
		o.Component = append(o.Component, c)
		if judged && !math.IsNaN(se) {
			o.Component = append(o.Component, component{Code: concept{Text: what + ", standard error"}, Value: &quantity{math.Round(se*10) / 10, "degree", ucum, "deg"}})
		}
	}
	degrees("greatest flexion", x.MaxDeg, x.MaxSE, true)
	degrees("least flexion", x.MinDeg, x.MinSE, x.MinJudged)
	return o
}

func (r *Report) pain(s *session.Session, e *session.Exercise, when string, value int) observation {
	o := r.base(s, fmt.Sprint(e.Number), "pain", when)
	o.Category = []concept{{Coding: []coding{{System: "http://terminology.hl7.org/CodeSystem/observation-category", Code: "survey", Display: "Survey"}}}}
	o.Code = concept{
		Coding: []coding{{System: "http://loinc.org", Code: "72514-3"}},
		Text:   "Pain, 0 to 10, as reported, " + when + " exercise " + e.Movement,
	}
	o.Device = nil
	o.ValueInteger = &value
	return o
}

// fhirID makes an id of at most 64 letters, digits, dots and dashes that is the
// same for the same things.
func fhirID(of ...string) string {
	h := sha256.Sum256([]byte(strings.Join(of, "\x00")))
	return hex.EncodeToString(h[:16])
}

// uuid writes 32 hexadecimal digits in the form of RFC 9562, version 8.
func uuid(hex string) string {
	b := []byte(hex)
	b[12], b[16] = '8', '8'
	return fmt.Sprintf("%s-%s-%s-%s-%s", b[:8], b[8:12], b[12:16], b[16:20], b[20:32])
}
