package exchange

// CarrierWorks lets the test of the bucket, which starts a server, hold it
// against what every carrier must do.
var CarrierWorks = carrierWorks
