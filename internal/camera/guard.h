// What this package needs of OpenCV beyond gocv v0.31.0.
#ifdef __cplusplus
extern "C" {
#endif

// Switches off OpenCV's own log lines. OPENCV_LOG_LEVEL cannot do it from
// within: OpenCV reads it before Go's main begins.
void volar_quiet_opencv(void);

// Reads the next picture of a cv::VideoCapture into a cv::Mat. Returns 1 for a
// picture, 0 for none, and -1 for an exception, whose start is then in why.
int volar_read(void *capture, void *mat, char *why, int size);

#ifdef __cplusplus
}
#endif
