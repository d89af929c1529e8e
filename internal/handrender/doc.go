// Package handrender draws a human hand at exactly known joint angles: test
// clips with truth, training crops with labels, and the demonstrations that a
// client sees. It is pure Go.
//
// # Frames and units
//
// Angles are in degrees, flexion positive, hyperextension negative. Lengths
// are in metres. Hand axes have their origin at the wrist joint, X radial, Y
// towards the middle MCP joint, Z out of the palm, for a left hand as for a
// right one. Camera axes are X right, Y down, Z away from the camera. Image
// points are in pixels, y down.
//
// View: yaw 0 has the palm to the camera, +90 the radial (thumb) side, -90 the
// ulnar side, 180 the back, of the client's own hand, left or right.
//
// Abduction of the thumb counts from the thumb beside the index finger, so that
// a Pose means the same on every mesh. The flexion planes of the fingers lean a
// few degrees towards each other, as the arch of the palm makes them; the exact
// side view of the index finger is therefore at yaw 83.
//
// # Use
//
// A Renderer turns Scenes into pictures (Render) or transparent crops for
// training (RenderCrop); Locate gives the truth without drawing. Grip closes
// the fingers on an object and Oppose brings the thumb to a finger; Pose.Couple
// draws the fingers together as anatomy does. Motion and Repetitions move a
// hand over time, Frames draws a ClipSpec in memory and WriteClip into an AVI
// file with the truth beside it as JSON. In most option fields 0 means the
// usual value, which the field names.
//
// # Exactness
//
// A joint angle of a Pose is the angle between the bones in the picture's
// truth, by construction; the rest pose of the mesh does not enter. The
// picture is the same to the bit on one processor architecture, whatever the
// number of goroutines; other architectures may round differently.
//
// # Errors
//
// Load returns errors that wrap ErrBadGLB. Rendering cannot fail; it draws
// what the numbers say, even where fingers pass through each other.
package handrender
