#include "guard.h"

#include <cstdio>
#include <exception>

#include <opencv2/core/utils/logger.hpp>
#include <opencv2/videoio.hpp>

void volar_quiet_opencv(void) {
    try {
        cv::utils::logging::setLogLevel(cv::utils::logging::LOG_LEVEL_SILENT);
    } catch (...) {
        // Chatter is no reason to end the process.
    }
}

int volar_read(void *capture, void *mat, char *why, int size) {
    try {
        return static_cast<cv::VideoCapture *>(capture)->read(*static_cast<cv::Mat *>(mat));
    } catch (const cv::Exception &e) {
        std::snprintf(why, size, "%s in %s", e.err.c_str(), e.func.c_str());
    } catch (const std::exception &e) {
        std::snprintf(why, size, "%s", e.what());
    } catch (...) {
        std::snprintf(why, size, "unknown exception");
    }
    return -1;
}
