// Switches off OpenCV's own log lines. OPENCV_LOG_LEVEL cannot do it from
// within: OpenCV reads it before Go's main begins.
#ifdef __cplusplus
extern "C" {
#endif
void volar_quiet_opencv(void);
#ifdef __cplusplus
}
#endif
