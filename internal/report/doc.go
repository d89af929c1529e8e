// Package report puts a stretch of a client's home program on paper and into
// files that other software reads: a PDF that a therapist would file, a handout
// for the client, CSV, JSON, and HL7 FHIR R4.
//
// Gather computes everything that is reported, once; the writers only lay it
// out. Each number comes with how it was made: method, view and error. What
// could not be judged is written as such, never as a zero. The assessment is
// the therapist's; nothing fills it in.
//
// Angles are in degrees, flexion positive. On paper they are in words or in the
// written style that was asked for, with its legend on every page that has
// angles; in files they are signed numbers, and the file says so. Dates are the
// client's local dates.
//
// Nothing here names a client beyond the clinic's code.
package report
