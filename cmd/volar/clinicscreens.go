package main

import (
	"volar/ui/clinic"
	"volar/ui/parts"
	"volar/ui/post"
)

// withPost gives the clinic's window the screens that send and fetch.
func withPost(o clinic.Options) clinic.Options {
	options := func(v clinic.Visit) post.Options {
		return post.Options{Window: v.Window, Back: v.Back, Now: v.Now, Do: v.Do}
	}
	o.Post = func(v clinic.Visit) parts.Screen {
		return post.NewLetters(v.Store.Vault(), v.Store.ReadOnly(), options(v))
	}
	o.Invite = func(v clinic.Visit) parts.Screen { return post.NewInvite(v.Store.Vault(), v.Client.Code, options(v)) }
	return o
}
